"""The plan of a trial: what is varied, in which order, how many runs, and how it will be read."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from weakstep.errors import LogError, NotEnoughError
from weakstep.failures.enough import (
    ALPHA,
    LARGEST_RATE,
    POWER,
    chips_per_arm,
    enough_to_show,
    within_run_correlation,
)
from weakstep.trials.designs import Design, suitable, two_level
from weakstep.trials.levels import choose_levels
from weakstep.trials.planned import FAILURES, PlannedRun, TrialPlan
from weakstep.trials.power import mean_power, runs_at_each_level, runs_for_means
from weakstep.trials.sizes import LEAST_SHARE

if TYPE_CHECKING:
    from weakstep.failures.model import FailureAnalysis
    from weakstep.runlog.model import RunLog
    from weakstep.trials.levels import Levels

_RUNS_A_BLOCK = 4  # at least; fewer say nothing within a day


@dataclass(frozen=True)
class Question:
    """
    What a trial is to settle.

    Attributes
    ----------
    outcome : str
        A failure family, "failures", or a measured column.
    rates : tuple of two floats or None
        Failure rates to tell apart; None: twice as often at one level as at the other.
    difference : float or None
        Of a measured outcome; None: one standard deviation between runs.
    power, alpha : float
    """

    outcome: str = FAILURES
    rates: tuple[float, float] | None = None
    difference: float | None = None
    power: float = POWER
    alpha: float = ALPHA


@dataclass(frozen=True)
class _Size:
    at_a_level: int
    power: float
    rates: tuple[float, float] | None
    difference: float | None
    chips: int
    correlation: float


def plan_trial(
    log: RunLog,
    levels: tuple[Levels, ...],
    question: Question,
    *,
    most_combinations: int | None = None,
    centre_runs: int = 0,
    block_by: str = "day",
    chips: int | None = None,
    seed: int = 0,
) -> TrialPlan:
    """
    Plan the smallest trial that would settle a question.

    Every block holds every combination equally often, in an order drawn by lot, so that days or
    operators cannot be taken for the parameter.

    Parameters
    ----------
    log : RunLog
        The rates, the spread and the within-run correlation come from it.
    levels : tuple of Levels
        From `weakstep.trials.levels.choose_levels`, one per parameter.
    question : Question
    most_combinations : int, optional
        For several parameters: at most that many combinations.
    centre_runs : int, default 0
        Runs with every parameter at its middle in each block.
    block_by : str
        What a block is.
    chips : int, optional
        A run; default what the log's runs hold.
    seed : int

    Returns
    -------
    TrialPlan

    Raises
    ------
    LogError
        Three levels of several parameters, or no design that small.
    NotEnoughError
        Nothing has failed, or more runs would be needed than anyone makes.
    """
    coded, generators, resolution = _combinations(levels, most_combinations)
    per_level = max(1, int((coded[:, 0] == coded[:, 0].min()).sum()))
    step = per_level * math.ceil(_RUNS_A_BLOCK / len(coded))
    size = _size(log, question, step, chips, seed)
    blocks = max(1, size.at_a_level // step)
    rows = np.tile(coded, (step // per_level, 1))
    rows = np.vstack([rows, np.zeros((centre_runs, len(levels)))])
    rng = np.random.default_rng(seed)
    runs: list[PlannedRun] = []
    for block in range(1, blocks + 1):
        for row in rows[rng.permutation(len(rows))]:
            settings = tuple(_setting(one, float(c)) for one, c in zip(levels, row, strict=True))
            name = f"T{len(runs) + 1:03d}"
            runs.append(PlannedRun(name, block, tuple(map(float, row)), settings))
    return TrialPlan(
        columns=tuple(one.column for one in levels),
        levels=tuple(one.values for one in levels),
        outcome=question.outcome,
        generators=generators,
        resolution=resolution,
        runs=tuple(runs),
        blocks=blocks,
        block_by=block_by,
        chips=size.chips,
        rates=size.rates,
        difference=size.difference,
        correlation=size.correlation,
        power=size.power,
        alpha=question.alpha,
        seed=seed,
        cautions=_cautions(log, [one.column for one in levels]),
    )


def question_of(
    log: RunLog, analysis: FailureAnalysis, power: float = POWER, alpha: float = ALPHA
) -> tuple[Levels, Question]:
    """
    Turn the review's verdict into levels and a question: inside the window against outside it.

    The rate inside is the log's own less the preventable share; the rate outside is what is then
    left for the runs outside.

    Raises
    ------
    NotEnoughError
        The verdict names no parameter with a window.
    """
    first = analysis.factors[0] if analysis.factors else None
    if analysis.verdict.column is None or first is None or first.window is None:
        msg = (
            "The review of this log names no parameter to tighten, so there is nothing to settle "
            "yet. Name one yourself: --vary NAME."
        )
        raise NotEnoughError(msg)
    levels = choose_levels(log, first.column, window=first.window)
    failed, tested = failed_of(log, first.family), log.runs.tested
    now = float(failed.sum() / tested.sum())
    hoped = now * (1.0 - max(first.preventable_share.estimate, LEAST_SHARE))
    inside = first.share_inside if first.share_inside is not None else 0.5
    outside = now if inside >= 1.0 else (now - inside * hoped) / (1.0 - inside)
    rates = (min(max(outside, now), LARGEST_RATE), hoped)
    return levels, Question(first.family, rates, None, power, alpha)


def _combinations(levels: tuple[Levels, ...], most: int | None) -> tuple[np.ndarray, str, str]:
    """Coded rows of every combination to be run, generators and resolution."""
    counts = [len(one.values) for one in levels]
    if max(counts) == 2:
        try:
            design: Design = (
                suitable(len(levels), most) if most or len(levels) > 2 else two_level(len(levels))
            )
        except ValueError as reason:
            msg = f"{str(reason)[:1].upper()}{str(reason)[1:]}. Name fewer, or allow more."
            raise LogError(msg) from reason
        return design.coded, design.generators, design.resolution_numeral
    if len(levels) > 2:
        msg = "Three levels are planned for at most two parameters at once; use two levels."
        raise LogError(msg)
    every = product(*([-1.0, 0.0, 1.0] if count == 3 else [-1.0, 1.0] for count in counts))
    return np.array(list(every)), "", "full"


def _setting(levels: Levels, coded: float) -> float:
    """Value of a parameter at a coded level; 0 is the middle of a two-level one."""
    values = levels.values
    if len(values) == 3:
        return values[round(coded) + 1]
    if coded == 0.0:
        return (values[0] + values[1]) / 2.0
    return values[0] if coded < 0 else values[1]


def _size(log: RunLog, question: Question, step: int, chips: int | None, seed: int) -> _Size:
    tested = log.runs.tested
    typical = max(1, round(float(tested[tested > 0].mean()))) if (tested > 0).any() else 1
    a_run = chips or typical
    if question.outcome in log.runs.numbers.columns:
        return _size_of_means(log, question, step, a_run)
    failed = failed_of(log, question.outcome)
    rates = question.rates or _doubled(failed, tested)
    correlation = within_run_correlation(failed, tested)
    found = runs_at_each_level(
        rates,
        chips=a_run,
        correlation=correlation,
        step=step,
        power=question.power,
        alpha=question.alpha,
        seed=seed,
    )
    if found is None:
        msg = (
            f"To tell {100 * rates[0]:.1f} % from {100 * rates[1]:.1f} % failures takes more than "
            "800 runs: look for a larger effect, or keep logging."
        )
        raise NotEnoughError(msg)
    return _Size(found[0], found[1], rates, None, a_run, correlation)


def _size_of_means(log: RunLog, question: Question, step: int, chips: int) -> _Size:
    values = log.runs.numbers[question.outcome].to_numpy(dtype=float)
    values = values[~np.isnan(values)]
    deviation = float(values.std(ddof=1)) if len(values) > 2 else 0.0
    if deviation == 0.0:
        msg = f"'{question.outcome}' has too few different values in the log to plan with."
        raise NotEnoughError(msg)
    difference = question.difference or deviation
    runs = runs_for_means(difference, deviation, power=question.power, alpha=question.alpha)
    runs = step * math.ceil(runs / step)
    power = mean_power(difference, deviation, runs, question.alpha)
    return _Size(runs, power, None, difference, chips, 0.0)


def failed_of(log: RunLog, outcome: str) -> np.ndarray:
    """
    Return failed chips of each run: of one family, or of all.

    Raises
    ------
    LogError
        No family and no measured column is called so.
    """
    if outcome == FAILURES:
        return np.asarray(sum(log.runs.failed.values(), start=0 * log.runs.tested))
    if outcome not in log.runs.failed:
        msg = (
            f"'{outcome}' is neither a failure family ({', '.join(log.runs.failed)}) nor a number "
            "that the log carries."
        )
        raise LogError(msg)
    return log.runs.failed[outcome]


def _doubled(failed: np.ndarray, tested: np.ndarray) -> tuple[float, float]:
    """Rates of which one is twice the other and whose mean is the log's own."""
    found = enough_to_show(failed, tested, 1)
    if found is None:
        msg = "Nothing (or everything) has failed in this log, so there is no rate to plan with."
        raise NotEnoughError(msg)
    return found.rate_high, found.rate_low


def _cautions(log: RunLog, columns: list[str]) -> tuple[str, ...]:
    """Texts of the cautions that go with the parameters varied, and of those that always hold."""
    wanted = {key for column in columns for key in log.process.parameter(column).cautions}
    wanted |= {limit.caution for limit in log.process.rated_limits if limit.parameter in columns}
    return tuple(
        caution.text for caution in log.process.cautions if caution.always or caution.name in wanted
    )


def power_table(plan: TrialPlan) -> tuple[tuple[float, int], ...]:
    """
    Return about how many runs at each level tell each failure rate from the higher one planned for.

    By the formula for two proportions times the design effect, for an 80 % chance.
    """
    if plan.rates is None:
        return ()
    high = max(plan.rates)
    effect = (1.0 + (plan.chips - 1.0) * plan.correlation) / plan.chips
    shares = (0.75, 0.5, 0.25, 0.1)
    return tuple(
        (high * share, math.ceil(chips_per_arm(high, high * share, POWER, plan.alpha) * effect))
        for share in shares
    )
