"""A finished trial read against its plan: effects, luck, bends."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.errors import LogError, NotEnoughError
from weakstep.failures.words import named
from weakstep.interval import Interval
from weakstep.trials.bends import Bent, bends_of, combinations_of
from weakstep.trials.designs import aliases, from_generators
from weakstep.trials.differences import newcombe_difference
from weakstep.trials.effects import Effect, failure_effects, numeric_effects, told_apart
from weakstep.trials.filled import Fit, TrialRuns, match_plan
from weakstep.trials.names import setting_words
from weakstep.trials.nested import nesting
from weakstep.trials.power import randomisation_p
from weakstep.trials.shares import beta_limits, score_limits

if TYPE_CHECKING:
    from collections.abc import Iterator

    from weakstep.runlog.model import RunLog
    from weakstep.trials.filled import Floats
    from weakstep.trials.planned import TrialPlan

LEVEL = 0.95
_FEWEST = 2  # runs at a level


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
        Chance of an effect as large when levels are dealt again by lot, per parameter; the effects
        of the others are taken out (`weakstep.trials.power.randomisation_p`).
    effects : tuple of Effect
        Of several parameters and their pairs.
    bends : tuple of Bent
        Of each parameter with three levels, or of all together with centre runs.
    fit : Fit
        How the sheet fits the plan.
    """

    plan: TrialPlan
    runs: int
    levels: tuple[AtLevel, ...]
    difference: Interval | None
    luck: tuple[float, ...]
    effects: tuple[Effect, ...]
    bends: tuple[Bent, ...]
    fit: Fit


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
    LogError
        None of the plan's runs is in the sheet, or the plan is one of another process.
    NotEnoughError
        Fewer than two runs with an outcome at some level of a parameter, or effects that the runs
        made so far cannot tell apart.
    """
    strange = next((name for name in plan.columns if not log.process.has(name)), None)
    if strange is not None:
        msg = (
            f"The description of '{log.process.title}' has no column '{strange}', which the plan "
            "varies: read the sheet with the description it was planned with (-p)."
        )
        raise LogError(msg)
    runs, fit = match_plan(log, plan)
    _refuse_unfinished(log, plan, runs, fit)
    one = len(plan.columns) == 1
    luck = tuple(
        float(randomisation_p(runs.outcome[None, :], scores, runs.blocks, seed, others)[0])
        for scores, others in _each_beside_the_others(runs.coded)
    )
    return Finished(
        plan=plan,
        runs=len(runs.coded),
        levels=_at_levels(runs, plan) if one else (),
        difference=_difference(runs) if one else None,
        luck=luck,
        effects=() if one else _effects(runs, plan),
        bends=bends_of(runs, plan),
        fit=fit,
    )


def _each_beside_the_others(coded: Floats) -> Iterator[tuple[Floats, Floats | None]]:
    """Levels of each parameter, and those of the others; None where there are none."""
    for place, scores in enumerate(coded.T):
        yield scores, np.delete(coded, place, axis=1) if coded.shape[1] > 1 else None


def _refuse_unfinished(log: RunLog, plan: TrialPlan, runs: TrialRuns, fit: Fit) -> None:
    """Refuse a sheet that is another one, or has too few outcomes."""
    planned = [one.run_id for one in plan.runs]
    if not set(planned) & set(map(str, log.runs.run_id)):
        msg = (
            f"No row is of a run of the plan ({planned[0]} to {planned[-1]}): this is another "
            "sheet, or its run_id column was changed. Keep the run ids that the sheet came with."
        )
        raise LogError(msg)
    for place, column in enumerate(plan.columns):
        for coded, value in zip(_levels_of(plan, place), plan.levels[place], strict=True):
            count = int((runs.coded[:, place] == coded).sum())
            if count < _FEWEST:
                where = setting_words(log.process, column, value)
                msg = (
                    f"{'No run' if count == 0 else 'Only 1 run'} with "
                    f"{named(log.process.parameter(column))} at {where} has an outcome yet: the "
                    f"trial can be read from {_FEWEST} at each level on. Fill in the outcomes of "
                    f"the sheet ({len(fit.missing)} of {len(planned)} runs lack one)."
                )
                raise NotEnoughError(msg)


def _levels_of(plan: TrialPlan, place: int) -> tuple[float, ...]:
    return (-1.0, 0.0, 1.0) if len(plan.levels[place]) == 3 else (-1.0, 1.0)


def _at_levels(runs: TrialRuns, plan: TrialPlan) -> tuple[AtLevel, ...]:
    """Tell the outcome at every level of the only parameter, with that of centre runs."""
    from scipy.special import stdtrit

    setting_of = {one.coded[0]: one.settings[0] for one in plan.runs}
    coded, group = np.unique(runs.coded[:, 0], return_inverse=True)
    nested = nesting(runs.failed, runs.tested, group)
    found = []
    for place, code in enumerate(coded):
        inside = group == place
        if inside.sum() < _FEWEST:  # a single centre run has no interval
            continue
        lost, seen = int(runs.failed[inside].sum()), int(runs.tested[inside].sum())
        if runs.measured is not None:
            told = _mean(runs.measured[inside])
        else:
            quantile = float(stdtrit(nested.freedom, 0.5 + LEVEL / 2.0))
            ends = score_limits(lost / seen, seen / nested.effects[place], quantile)
            told = Interval(lost / seen, *ends, LEVEL)
        found.append(AtLevel(setting_of[float(code)], int(inside.sum()), lost, seen, told))
    return tuple(found)


def _mean(values: Floats) -> Interval:
    """Return the mean of runs at one level, with the interval of the t law."""
    from scipy.special import stdtrit

    mean, error = float(values.mean()), float(values.std(ddof=1)) / len(values) ** 0.5
    reach = float(stdtrit(len(values) - 1, 0.5 + LEVEL / 2.0)) * error
    return Interval(mean, mean - reach, mean + reach, LEVEL)


def _difference(runs: TrialRuns) -> Interval:
    """High less low level: Newcombe's interval with nested chips, or least squares with blocks."""
    if runs.measured is not None:
        only = (frozenset({1}),)
        return numeric_effects(runs.coded, runs.measured, [only], runs.blocks)[0].estimate
    ends = runs.coded[:, 0] != 0.0
    failed, tested, high = runs.failed[ends], runs.tested[ends], runs.coded[ends, 0] > 0.0
    nested = nesting(failed, tested, high)
    counts = [
        (float(failed[group].sum()) / effect, float(tested[group].sum()) / effect)
        for group, effect in zip((~high, high), nested.effects, strict=True)
    ]
    return newcombe_difference(
        counts[1], counts[0], level=LEVEL, freedom=nested.freedom, limits=beta_limits
    )


def _effects(runs: TrialRuns, plan: TrialPlan) -> tuple[Effect, ...]:
    """Effects of single parameters and pairs; only of single ones where runs are too few."""
    count = len(plan.columns)
    groups = aliases(from_generators(count, plan.generators), count, largest=2)
    # Centre runs say nothing of an effect on failures; where levels are three, their middle does.
    varied = runs.coded.any(axis=1) | (runs.measured is not None) | (not plan.two_levels)
    coded, failed, tested = runs.coded[varied], runs.failed[varied], runs.tested[varied]
    blocks = runs.blocks if runs.measured is not None else None
    few = len(groups) >= len(coded) or not told_apart(coded, groups, blocks)
    if few or not plan.two_levels:
        groups = groups[:count]
    if runs.measured is not None:
        return numeric_effects(coded, runs.measured, groups, blocks)
    nested = nesting(failed, tested, combinations_of(coded))
    design_effect = float(np.mean(nested.effects))
    return failure_effects(coded, failed, tested, groups, design_effect=design_effect)
