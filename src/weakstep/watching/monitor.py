"""New runs against a baseline, run by run: every chart, and the signals that come of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.errors import LogError
from weakstep.watching.freezing import joint_table, run_keys
from weakstep.watching.limits import FAST, SLOW, spread_scores
from weakstep.watching.scores import new_scores

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from weakstep.runlog.model import RunLog
    from weakstep.watching.baseline import Baseline
    from weakstep.watching.history import Event

    Floats = NDArray[np.float64]

FAILURES, JOINT, EVERY = "failures", "joint", "all"
_PARTS_TOLD = 3


@dataclass(frozen=True)
class Found:
    """
    A signal: a chart that passed its limit.

    Attributes
    ----------
    chart : str
        Column, "failures" or "joint".
    way : str
        "higher", "lower", "more spread", "more failures" or "apart together".
    run, since : str
        Run at which the limit was passed, and the first of those that led there.
    now : float or None
        Mean of the runs from *since* on, in the parameter's unit; share of failed chips.
    before : float or None
        The same in the baseline.
    parts : tuple of str
        For "joint": the columns that set the run apart most.
    """

    chart: str
    way: str
    run: str
    since: str
    now: float | None
    before: float | None
    parts: tuple[str, ...] = ()


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
    outside : tuple of str
        New runs outside the verdict's window.
    """

    new_runs: int
    signals: tuple[Found, ...]
    missing: tuple[str, ...]
    outside: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class _New:
    """The new runs of a log."""

    log: RunLog
    places: NDArray[np.intp]
    names: tuple[str, ...]


def watch(log: RunLog, baseline: Baseline, resets: Iterable[Event] = ()) -> Watched:
    """
    Hold every new run against the baseline.

    Each parameter has cumulative sums of its scores upwards and downwards (allowances 0.5 and 1)
    and of their spread; failures have one of log likelihood ratios; parameters that look normal
    have their joint distance (T2). A sum that has signalled starts anew, and so do the sums of a
    chart after a reset.

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
    old = set(baseline.runs)
    keys = run_keys(log.runs)
    places = np.array([i for i, key in enumerate(keys) if key not in old], dtype=np.intp)
    new = _New(log, places, tuple(str(log.runs.run_id[i]) for i in places))
    anew = _starts(new, resets)
    found: list[tuple[int, Found]] = []
    missing = []
    for column in baseline.columns:
        one = _column(new, baseline, column, anew.get(EVERY, set()) | anew.get(column, set()))
        if one is None:
            missing.append(column)
        else:
            found += one
    found += _failures(new, baseline, anew.get(EVERY, set()) | anew.get(FAILURES, set()))
    found += _joint(new, baseline)
    found.sort(key=lambda pair: pair[0])
    return Watched(
        len(places),
        tuple(signal for _, signal in found),
        tuple(missing) if len(places) else (),
        _outside(new, baseline),
    )


def _starts(new: _New, resets: Iterable[Event]) -> dict[str, set[int]]:
    """Places among the new runs before which the sums of a chart start anew."""
    place_of = {name: place for place, name in enumerate(new.names)}
    starts: dict[str, set[int]] = {}
    for event in resets:
        if event.kind == "reset" and event.run in place_of:
            starts.setdefault(event.chart, set()).add(place_of[event.run] + 1)
    return starts


def sums_of(steps: Floats, limit: float, starts: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """
    Cumulate steps to sums from 0 up; return (where it began, where it passed) of each signal.

    Parameters
    ----------
    steps : array, shape (n_points,)
    limit : float
    starts : array of bool, shape (n_points,)
        Points before which the sum starts anew.

    Examples
    --------
    >>> sums_of(np.array([-1.0, 2.0, 2.0, 2.0, 2.0]), 3.5, np.zeros(5, dtype=bool))
    [(1, 2), (3, 4)]
    """
    found = []
    total, began = 0.0, 0
    for place, step in enumerate(steps):
        if starts[place]:
            total = 0.0
        if total <= 0.0:
            began = place
        total = max(0.0, total + float(step))
        if total > limit:
            found.append((began, place))
            total = 0.0
    return found


def _column(
    new: _New, baseline: Baseline, name: str, starts: set[int]
) -> list[tuple[int, Found]] | None:
    """Signals of one parameter; None when no new run carries it."""
    numbers = new.log.runs.numbers
    if not len(new.places):
        return []
    if name not in numbers.columns:
        return None
    watched = baseline.columns[name]
    values = numbers[name].to_numpy(dtype=float)[new.places]
    usable = ~np.isnan(values)
    if not usable.any():
        return None
    at = np.flatnonzero(usable)
    before, coming = np.array(watched.values), values[at]
    # Ranks whatever the distribution: a wrong guess of it would cost false alarms.
    scores = new_scores(before, coming, normal=False, memory=watched.memory)
    anew = np.zeros(len(at), dtype=bool)
    for start in starts:  # a reset before a run that was not logged counts from the next logged one
        later = np.flatnonzero(at >= start)
        if len(later):
            anew[later[0]] = True
    charts = (
        ("higher", scores - SLOW, watched.slow),
        ("higher", scores - FAST, watched.fast),
        ("lower", -scores - SLOW, watched.slow),
        ("lower", -scores - FAST, watched.fast),
        ("more spread", spread_scores(scores) - SLOW, watched.spread),
    )
    found: dict[tuple[str, int], Found] = {}
    for way, steps, limit in charts:
        for began, passed in sums_of(steps, limit, anew):
            inside = coming[began : passed + 1]
            spread = way == "more spread"
            found.setdefault(
                (way, int(at[passed])),
                Found(
                    name,
                    way,
                    new.names[at[passed]],
                    new.names[at[began]],
                    float(inside.std()) if spread else float(np.median(inside)),
                    float(before.std()) if spread else float(np.median(before)),
                ),
            )
    return [(place, signal) for (_, place), signal in found.items()]


def _failures(new: _New, baseline: Baseline, starts: set[int]) -> list[tuple[int, Found]]:
    watched = baseline.failures
    if watched is None or not len(new.places):
        return []
    runs = new.log.runs
    failed = np.asarray(sum(runs.failed.values(), start=0 * runs.tested))[new.places]
    tested = runs.tested[new.places]
    steps = failed * watched.for_failed + (tested - failed) * watched.for_good
    anew = np.isin(np.arange(len(steps)), sorted(starts))
    found = []
    for began, passed in sums_of(steps, watched.limit, anew):
        inside = slice(began, passed + 1)
        rate = float(failed[inside].sum() / max(1, tested[inside].sum()))
        signal = Found(
            FAILURES,
            "more failures",
            new.names[passed],
            new.names[began],
            rate,
            watched.failed / watched.tested,
        )
        found.append((passed, signal))
    return found


def _joint(new: _New, baseline: Baseline) -> list[tuple[int, Found]]:
    from weakstep.charts.multivariate import Baseline as Estimated
    from weakstep.charts.multivariate import t2_chart

    joint = baseline.joint
    if joint is None or not len(new.places):
        return []
    names = list(joint.columns)
    table = joint_table(new.log.runs, names, baseline.columns)[new.places]
    base = Estimated(np.array(joint.centre), np.array(joint.covariance), joint.points)
    chart = t2_chart(table, base, false_alarm=joint.chance)
    found = []
    for place in sorted({place for signal in chart.chart.signals for place in signal.points}):
        order = np.argsort(-chart.contributions[place])[:_PARTS_TOLD]
        run = new.names[place]
        parts = tuple(names[i] for i in order)
        found.append((place, Found(JOINT, "apart together", run, run, None, None, parts)))
    return found


def _outside(new: _New, baseline: Baseline) -> tuple[str, ...]:
    if baseline.window is None or baseline.window[0] not in new.log.runs.numbers.columns:
        return ()
    name, low, high = baseline.window
    values = new.log.runs.numbers[name].to_numpy(dtype=float)[new.places]
    below = values < (-np.inf if low is None else low)
    out = below | (values > (np.inf if high is None else high))
    return tuple(run for run, is_out in zip(new.names, out, strict=True) if is_out)
