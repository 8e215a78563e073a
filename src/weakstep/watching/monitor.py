"""New runs against a baseline, run by run: every chart, and the signals that come of it."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np

from weakstep.errors import LogError
from weakstep.watching.baseline import EVERY, FAILURES, JOINT
from weakstep.watching.evidence import WAYS
from weakstep.watching.following import follow, scaled
from weakstep.watching.joint import joint_distances, joint_limit, joint_of
from weakstep.watching.new_rows import early_runs, new_places, stopped, unread, used_again
from weakstep.watching.sums import sums_of
from weakstep.watching.telling import told

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from weakstep.runlog.model import Problem, RunLog
    from weakstep.watching.baseline import Baseline, WatchedFailures, WatchedJoint
    from weakstep.watching.history import Event

    Floats = NDArray[np.float64]

_PARTS_TOLD = 3


@dataclass(frozen=True)
class Found:
    """
    A signal: a chart that passed its limit.

    Attributes
    ----------
    chart : str
        Column, "failures:" and a family (or "others"), or "joint".
    way : str
        "higher", "lower", "more spread", "more failures" or "apart together".
    run, since : str
        Run at which the limit was passed, and the first of the change.
    now : float or None
        Median or standard deviation of the runs that led to the signal, in the parameter's unit;
        share of failed chips.
    before : float or None
        The same in the baseline.
    parts : tuple of str
        For "joint": the columns that set the run apart most.
    still : bool
        Whether the change was told before and lasts.
    """

    chart: str
    way: str
    run: str
    since: str
    now: float | None
    before: float | None
    parts: tuple[str, ...] = ()
    still: bool = False


@dataclass(frozen=True)
class Watched:
    """
    A look at the log.

    Attributes
    ----------
    new_runs : int
        Runs that are not in the baseline.
    signals : tuple of Found
        In the order of their runs.
    missing : tuple of str
        Watched columns that no new run carries.
    stopped : tuple of (str, str)
        Watched columns that the last new runs no longer carry, and the last run that does.
    outside : tuple of str
        New runs outside the verdict's window.
    early : tuple of str
        New runs that begin before the baseline's last one.
    used_again : tuple of str
        Runs of the baseline to which later rows were added, which are not watched.
    unread : tuple of Problem
        What keeps cells or rows of the new runs out, worst first.
    """

    new_runs: int
    signals: tuple[Found, ...]
    missing: tuple[str, ...]
    stopped: tuple[tuple[str, str], ...]
    outside: tuple[str, ...]
    early: tuple[str, ...]
    used_again: tuple[str, ...]
    unread: tuple[Problem, ...]


@dataclass(frozen=True, eq=False)
class _New:
    """The new runs of a log."""

    log: RunLog
    places: NDArray[np.intp]
    names: tuple[str, ...]


def watch(log: RunLog, baseline: Baseline, resets: Iterable[Event] = ()) -> Watched:
    """
    Hold every new run against the baseline.

    Of each parameter the evidence is weighed that its level or spread changed, by its scores
    (`weakstep.watching.evidence`); each failure family has two sums of log likelihood ratios; the
    scores of all have their joint distance (T2). What has signalled starts anew, and so does a
    chart after a reset; the joint distance then measures from the mean of the runs since. A change
    that lasts is told once, and then every 20 runs that it does (`weakstep.watching.telling`).

    Parameters
    ----------
    log : RunLog
        May hold the baseline's runs, too; they are passed over.
    baseline : Baseline
    resets : iterable of Event
        Of kind "reset"; others are passed over.

    Returns
    -------
    Watched

    Raises
    ------
    LogError
        The log is of another process than the baseline.
    """
    if log.process.name != baseline.process:
        msg = (
            f"The baseline is of the process '{baseline.process}' and the log of "
            f"'{log.process.name}'; name the right description with -p."
        )
        raise LogError(msg)
    places = new_places(log, baseline)
    new = _New(log, places, tuple(str(log.runs.run_id[i]) for i in places))
    anew = _starts(new, baseline, resets)
    found: list[tuple[int, Found]] = []
    missing, scores = [], {}
    for column in baseline.columns if len(places) else ():
        one = _column(new, baseline, column, anew[EVERY] | anew[column])
        if one is None:
            missing.append(column)
        else:
            scores[column] = one[0]
            found += one[1]
    for chart, sums in groupby(baseline.failures, lambda one: one.chart):
        found += _failures(new, list(sums), anew[EVERY] | anew[FAILURES] | anew[chart])
    joint = joint_of(baseline.joint, scores) if baseline.joint else None
    if joint is not None:
        found += _joint(new, joint, scores, anew[EVERY] | anew[JOINT])
    found.sort(key=lambda pair: pair[0])
    return Watched(
        len(places),
        tuple(signal for _, signal in found),
        tuple(missing),
        stopped(log, places, baseline),
        _outside(new, baseline),
        early_runs(log, places, baseline),
        used_again(log, places, baseline),
        unread(log, places),
    )


def _starts(new: _New, baseline: Baseline, resets: Iterable[Event]) -> defaultdict[str, set[int]]:
    """Places among the new runs before which a chart starts anew: 0 after a run of the baseline."""
    after = {name: 0 for name, _ in baseline.runs}
    after |= {name: place + 1 for place, name in enumerate(new.names)}
    starts: defaultdict[str, set[int]] = defaultdict(set)
    for event in resets:
        if event.kind == "reset" and event.run in after:
            starts[event.chart].add(after[event.run])
    return starts


def _column(
    new: _New, baseline: Baseline, name: str, starts: set[int]
) -> tuple[Floats, list[tuple[int, Found]]] | None:
    """Scores of one parameter, NaN for gaps, and its signals; None when no new run carries it."""
    numbers = new.log.runs.numbers
    if name not in numbers.columns:
        return None
    watched = baseline.columns[name]
    values = numbers[name].to_numpy(dtype=float)[new.places]
    at = np.flatnonzero(~np.isnan(values))
    if not len(at):
        return None
    coming = values[at]
    # A reset before a run that was not logged counts from the next logged one.
    anew = [int(place) for place in np.searchsorted(at, sorted(starts))]
    followed = follow(watched, scaled(watched, coming), anew)
    scores = np.full(len(values), np.nan)
    scores[at] = followed.scores
    level, spread = float(np.median(watched.values)), float(np.std(watched.values))
    found = []
    for way in WAYS:
        wider = way == "more spread"
        passed = [(one.began, one.at) for one in followed.passed if one.way == way]
        for one in told(passed, anew):
            inside = coming[one.recent : one.at + 1]
            signal = Found(
                name,
                way,
                new.names[at[one.at]],
                new.names[at[one.began]],
                float(inside.std()) if wider else float(np.median(inside)),
                spread if wider else level,
                still=one.still,
            )
            found.append((int(at[one.at]), signal))
    return scores, found


def _failures(new: _New, sums: list[WatchedFailures], starts: set[int]) -> list[tuple[int, Found]]:
    """Signals of the sums of one chart."""
    runs, watched = new.log.runs, sums[0]
    tested = runs.tested[new.places]
    none = np.zeros(len(runs), dtype=int)
    failed = sum((runs.failed.get(name, none) for name in watched.families), start=none)
    lost = np.minimum(failed[new.places], tested)
    anew = np.isin(np.arange(len(lost)), sorted(starts))
    passed = sorted(
        (at, began)
        for one in sums
        for began, at in sums_of(
            lost * one.for_failed - (tested - lost) * one.for_good, one.limit, anew
        )
    )
    found = []
    for one in told([(began, at) for at, began in passed], starts):
        inside = slice(one.recent, one.at + 1)
        signal = Found(
            watched.chart,
            "more failures",
            new.names[one.at],
            new.names[one.began],
            float(lost[inside].sum() / max(1, tested[inside].sum())),
            watched.failed / watched.tested,
            still=one.still,
        )
        found.append((one.at, signal))
    return found


def _joint(
    new: _New, joint: WatchedJoint, scores: dict[str, Floats], starts: set[int]
) -> list[tuple[int, Found]]:
    """Signals of the joint distance; runs with gaps neither signal nor are quiet."""
    table = np.column_stack([scores[name] for name in joint.columns])
    distance, parts = joint_distances(table, joint, starts)
    whole = np.flatnonzero(~np.isnan(distance))
    beyond = np.flatnonzero(distance[whole] > joint_limit(joint))
    anew = [int(place) for place in np.searchsorted(whole, sorted(starts))]
    found = []
    for one in told([(int(place), int(place)) for place in beyond], anew):
        at = int(whole[one.at])
        most = tuple(joint.columns[i] for i in np.argsort(-parts[at])[:_PARTS_TOLD])
        names = new.names[at], new.names[whole[one.began]]
        found.append((at, Found(JOINT, "apart together", *names, None, None, most, one.still)))
    return found


def _outside(new: _New, baseline: Baseline) -> tuple[str, ...]:
    if baseline.window is None or baseline.window[0] not in new.log.runs.numbers.columns:
        return ()
    name, low, high = baseline.window
    values = new.log.runs.numbers[name].to_numpy(dtype=float)[new.places]
    below = values < (-np.inf if low is None else low)
    out = below | (values > (np.inf if high is None else high))
    return tuple(run for run, is_out in zip(new.names, out, strict=True) if is_out)
