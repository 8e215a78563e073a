"""A finished trial read against its plan: effects, luck, what was learned."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.errors import NotEnoughError
from weakstep.interval import Interval
from weakstep.trials.curvature import bend
from weakstep.trials.designs import aliases, from_generators
from weakstep.trials.differences import newcombe_difference
from weakstep.trials.effects import Effect, failure_effects, numeric_effects
from weakstep.trials.nested import nesting
from weakstep.trials.power import randomisation_p
from weakstep.trials.question import failed_of
from weakstep.trials.shares import beta_limits, score_limits

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from weakstep.runlog.model import RunLog
    from weakstep.trials.planned import TrialPlan

    Floats = NDArray[np.float64]

LEVEL = 0.95
_OFF_PLAN = 0.25  # of the distance between levels; a value further away is told


@dataclass(frozen=True)
class AtLevel:
    """Outcome at one level of one parameter: failure rate or mean, with its interval."""

    value: float
    runs: int
    failed: int
    tested: int
    outcome: Interval


@dataclass(frozen=True)
class Finished:
    """
    A finished trial.

    Attributes
    ----------
    plan : TrialPlan
    runs : int
        With an outcome, of those planned.
    levels : tuple of AtLevel
        Of the first parameter, when it is the only one; else none.
    difference : Interval or None
        Highest less lowest level, when one parameter was varied.
    luck : tuple of float
        Chance of an effect as large by the lot that dealt the levels, per parameter.
    effects : tuple of Effect
        Of several parameters and their pairs.
    bend : Interval or None
        Mean outcome at the middle less that of the other runs, with centre runs.
    off_plan : tuple of (run, column, planned, found)
    """

    plan: TrialPlan
    runs: int
    levels: tuple[AtLevel, ...]
    difference: Interval | None
    luck: tuple[float, ...]
    effects: tuple[Effect, ...]
    bend: Interval | None
    off_plan: tuple[tuple[str, str, float, float], ...]


@dataclass(frozen=True, eq=False)
class _Runs:
    """The planned runs that have an outcome."""

    coded: Floats
    blocks: NDArray[np.intp]
    failed: NDArray[np.int_]
    tested: NDArray[np.int_]
    outcome: Floats


def analyse_trial(log: RunLog, plan: TrialPlan, *, seed: int = 0) -> Finished:
    """
    Read a finished trial as its plan says.

    Runs count at the level that was planned; those that were set otherwise are told.

    Parameters
    ----------
    log : RunLog
        The filled sheet.
    plan : TrialPlan
    seed : int
        Of the levels dealt again.

    Returns
    -------
    Finished

    Raises
    ------
    NotEnoughError
        Fewer than two runs with an outcome at some level of a parameter.
    """
    runs, off_plan = _matched(log, plan)
    for place, name in enumerate(plan.columns):
        counts = [int((runs.coded[:, place] == c).sum()) for c in _ends(plan, place)]
        if min(counts, default=0) < 2:
            msg = (
                f"Only {min(counts, default=0)} runs with an outcome at one level of '{name}': the "
                "trial cannot be read yet. Fill in the sheet's outcomes."
            )
            raise NotEnoughError(msg)
    numeric = plan.rates is None
    luck = tuple(
        float(randomisation_p(_per_run(runs)[None, :], runs.coded[:, place], runs.blocks, seed)[0])
        for place in range(len(plan.columns))
    )
    one = len(plan.columns) == 1
    levels = _at_levels(runs, plan, numeric) if one else ()
    return Finished(
        plan=plan,
        runs=len(runs.coded),
        levels=levels,
        difference=_difference(runs, numeric) if one else None,
        luck=luck,
        effects=() if one else _effects(runs, plan, numeric),
        bend=_bend(runs) if plan.centre_runs else None,
        off_plan=off_plan,
    )


def _ends(plan: TrialPlan, place: int) -> tuple[float, ...]:
    return (-1.0, 0.0, 1.0) if len(plan.levels[place]) == 3 else (-1.0, 1.0)


def _matched(
    log: RunLog, plan: TrialPlan
) -> tuple[_Runs, tuple[tuple[str, str, float, float], ...]]:
    """Planned runs found in the log with an outcome, and values that were not set as planned."""
    place_of = {name: place for place, name in enumerate(log.runs.run_id)}
    numeric = plan.rates is None
    outcome = (
        log.runs.numbers[plan.outcome].to_numpy(dtype=float)
        if numeric and plan.outcome in log.runs.numbers.columns
        else np.full(len(log.runs), np.nan)
    )
    failed = 0 * log.runs.tested if numeric else failed_of(log, plan.outcome)
    known = ~np.isnan(outcome) if numeric else log.runs.tested > 0
    kept, places, off = [], [], []
    for planned in plan.runs:
        place = place_of.get(planned.run_id)
        if place is None or not known[place]:
            continue
        kept.append(planned)
        places.append(place)
        for column, values, setting in zip(
            plan.columns, plan.levels, planned.settings, strict=True
        ):
            found = _logged(log, column, place)
            if abs(found - setting) > _OFF_PLAN * (values[-1] - values[0]):
                off.append((planned.run_id, column, setting, found))
    rows = np.array(places, dtype=np.intp)
    coded = np.array([run.coded for run in kept]).reshape(len(kept), len(plan.columns))
    blocks = np.array([run.block for run in kept], dtype=np.intp)
    return _Runs(coded, blocks, failed[rows], log.runs.tested[rows], outcome[rows]), tuple(off)


def _logged(log: RunLog, column: str, place: int) -> float:
    if column not in log.runs.numbers.columns:
        return float("nan")
    return float(log.runs.numbers[column].iloc[place])


def _per_run(runs: _Runs) -> Floats:
    """Outcome of each run as one number: failure rate, or the measured mean."""
    if np.isnan(runs.outcome).any():
        return np.asarray(runs.failed / runs.tested, dtype=float)
    return runs.outcome


def _at_levels(runs: _Runs, plan: TrialPlan, numeric: bool) -> tuple[AtLevel, ...]:
    from scipy.special import stdtrit

    found = []
    first = runs.coded[:, 0]
    nested = nesting(runs.failed, runs.tested, first > 0)
    for coded, value in zip(_ends(plan, 0), plan.levels[0], strict=True):
        inside = first == coded
        lost, seen = int(runs.failed[inside].sum()), int(runs.tested[inside].sum())
        if numeric:
            y = runs.outcome[inside]
            reach = float(stdtrit(len(y) - 1, 0.975)) * float(y.std(ddof=1)) / np.sqrt(len(y))
            mean = float(y.mean())
            told = Interval(mean, float(mean - reach), float(mean + reach), LEVEL)
        else:
            size = seen / nested.effects[int(coded > 0)]
            quantile = float(stdtrit(nested.freedom, 0.975))
            told = Interval(lost / seen, *score_limits(lost / seen, size, quantile), LEVEL)
        found.append(AtLevel(value, int(inside.sum()), lost, seen, told))
    return tuple(found)


def _difference(runs: _Runs, numeric: bool) -> Interval:
    """High less low level: Newcombe's interval with nested chips, or Welch's for means."""
    low, high = runs.coded[:, 0] == -1.0, runs.coded[:, 0] == 1.0
    if numeric:
        return _welch(runs.outcome[high], runs.outcome[low])
    ends = low | high
    failed, tested = runs.failed[ends], runs.tested[ends]
    nested = nesting(failed, tested, high[ends])
    counts = [
        (float(runs.failed[group].sum()) / effect, float(runs.tested[group].sum()) / effect)
        for group, effect in zip((low, high), nested.effects, strict=True)
    ]
    return newcombe_difference(
        counts[1], counts[0], level=LEVEL, freedom=nested.freedom, limits=beta_limits
    )


def _welch(first: Floats, second: Floats) -> Interval:
    """Difference of two means with unequal variances (Welch 1947, Biometrika 34, 28-35)."""
    from scipy.special import stdtrit

    parts = [float(group.var(ddof=1)) / len(group) for group in (first, second)]
    difference = float(first.mean() - second.mean())
    error = sum(parts)
    if error == 0.0:
        return Interval(difference, difference, difference, LEVEL)
    freedom = error**2 / sum(
        part**2 / (len(group) - 1) for part, group in zip(parts, (first, second), strict=True)
    )
    reach = float(stdtrit(freedom, 0.975)) * error**0.5
    return Interval(difference, difference - reach, difference + reach, LEVEL)


def _effects(runs: _Runs, plan: TrialPlan, numeric: bool) -> tuple[Effect, ...]:
    """Effects of single parameters and pairs; only of single ones where runs are too few."""
    count = len(plan.columns)
    design = from_generators(count, plan.generators)
    groups = aliases(design, count, largest=2)
    if len(groups) >= len(runs.coded) or not plan.two_levels:
        groups = groups[:count]
    if numeric:
        return numeric_effects(runs.coded, runs.outcome, groups)
    nested = nesting(runs.failed, runs.tested, runs.coded[:, 0] > 0)
    effect = float(np.mean(nested.effects))
    return failure_effects(runs.coded, runs.failed, runs.tested, groups, design_effect=effect)


def _bend(runs: _Runs) -> Interval | None:
    try:
        return bend(runs.coded, _per_run(runs), level=LEVEL).size
    except NotEnoughError:
        return None
