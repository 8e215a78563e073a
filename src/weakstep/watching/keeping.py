"""One look at the log against the baseline, with the history kept: what `weakstep watch` does."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from weakstep.errors import LogError
from weakstep.watching.baseline import EVERY, FAILURES, JOINT
from weakstep.watching.history import Event
from weakstep.watching.monitor import watch
from weakstep.watching.words import signal_words

if TYPE_CHECKING:
    from weakstep.runlog.model import RunLog
    from weakstep.watching.baseline import Baseline
    from weakstep.watching.history import History
    from weakstep.watching.monitor import Watched


_STILL = "still "


@dataclass(frozen=True)
class Look:
    """
    A look at the log.

    Attributes
    ----------
    watched : Watched
    open : tuple of Event
        Signals that nobody has acknowledged, oldest first.
    """

    watched: Watched
    open: tuple[Event, ...]


def look(log: RunLog, baseline: Baseline, history: History, *, at: str) -> Look:
    """
    Watch the log and keep every new signal in the history.

    Parameters
    ----------
    log : RunLog
    baseline : Baseline
    history : History
    at : str
        ISO time of the look.

    Returns
    -------
    Look

    Raises
    ------
    LogError
        The log is of another process, or the history cannot be used.
    """
    before = history.events(baseline.sha256)
    kept = {(event.chart, event.run) for event in before if event.kind == "signal"}
    watched = watch(log, baseline, before)
    signals = (
        Event(
            0,
            at,
            baseline.sha256,
            "signal",
            f"{found.chart}, {_STILL if found.still else ''}{found.way}",
            found.run,
            signal_words(found, log.process),
            "",
        )
        for found in watched.signals
    )
    # Without anything new nothing is written: who may only read may look, too.
    history.add(event for event in signals if (event.chart, event.run) not in kept)
    return Look(watched, open_signals(history, baseline))


def open_signals(history: History, baseline: Baseline) -> tuple[Event, ...]:
    """
    Return the signals that nobody has acknowledged, oldest first.

    An acknowledgement holds for the earlier signals of that chart and way, too. Of those that say
    that one change lasts, only the last is open.
    """
    events = history.events(baseline.sha256)
    done = {event.chart for event in events if event.kind == "acknowledge"}
    found: list[Event] = []
    for event in events:
        if event.kind != "signal":
            continue
        same = [one for one in found if _change(one) == _change(event)]
        if str(event.number) in done:
            found = [one for one in found if one not in same]
            continue
        if same and _lasts(event) and _lasts(same[-1]):
            found.remove(same[-1])
        found.append(event)
    return tuple(found)


def _change(event: Event) -> str:
    """Chart and way of a signal, whether new or lasting."""
    return event.chart.replace(f", {_STILL}", ", ")


def _lasts(event: Event) -> bool:
    return event.chart != _change(event)


def acknowledgement(
    history: History, baseline: Baseline, number: int, *, note: str, who: str, at: str
) -> Event:
    """
    Return the entry that somebody has seen a signal and what was done.

    Raises
    ------
    LogError
        No signal has that number.
    """
    numbers = {e.number: e for e in history.events(baseline.sha256) if e.kind == "signal"}
    if number not in numbers:
        known = ", ".join(map(str, numbers)) or "none yet"
        msg = f"{history.path}: no signal has the number {number}; there are: {known}."
        raise LogError(msg)
    return Event(0, at, baseline.sha256, "acknowledge", str(number), "", note, who)


def reset(baseline: Baseline, chart: str, run: str, *, note: str, who: str, at: str) -> Event:
    """
    Return the entry that lets a chart start anew after a run: after a service, say.

    Evidence and sums begin anew; the joint distance is measured from the mean of the runs since.

    Raises
    ------
    LogError
        No chart is called so.
    """
    own = {watched.chart for watched in baseline.failures}
    charts = {EVERY, FAILURES, JOINT, *own, *baseline.columns}
    if chart not in charts:
        msg = f"No chart is called '{chart}'; there are: {', '.join(sorted(charts))}."
        raise LogError(msg)
    return Event(0, at, baseline.sha256, "reset", chart, run, note, who)
