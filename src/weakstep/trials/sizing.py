"""How large a trial must be for its question, and what other sizes could see."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.errors import NotEnoughError
from weakstep.failures.enough import POWER, enough_to_show
from weakstep.trials.means import runs_for_means, scatter_of_means
from weakstep.trials.nested import USUAL_CORRELATION, nesting
from weakstep.trials.pairs import chips_in_pairs
from weakstep.trials.power import MOST_RUNS, runs_at_each_level, simulated_mean_power
from weakstep.trials.question import failed_of

if TYPE_CHECKING:
    from weakstep.runlog.model import RunLog
    from weakstep.trials.planned import TrialPlan
    from weakstep.trials.question import Question

_SHARES = (0.75, 0.5, 0.25, 0.1)  # of the higher failure rate
_DEVIATIONS = (0.5, 0.75, 1.0, 1.5, 2.0)  # of run means
_SUREST = 0.999  # no number of pairs has a power of 1
_FOR_TABLE = 1000  # trials on paper behind a line of the table


@dataclass(frozen=True)
class Size:
    """
    The size of a trial.

    Attributes
    ----------
    at_a_level : int
        Runs.
    power : float
    rates : tuple of two floats or None
    difference, deviation : float or None
        Of a measured outcome: what is to be seen, and one standard deviation of run means.
    chips : int
        A run.
    correlation : float
        Of chips within a run: of their failing, or of what is measured.
    correlation_seen : bool
        Whether the log tells it: some of its runs hold several chips.
    """

    at_a_level: int
    power: float
    rates: tuple[float, float] | None
    difference: float | None
    deviation: float | None
    chips: int
    correlation: float
    correlation_seen: bool


@dataclass(frozen=True)
class SeenWith:
    """
    One line of the table of runs needed against effect.

    Attributes
    ----------
    effect : float
        Failure rate at the better level, or difference of a measured outcome.
    at_a_level : int or None
        Runs at each level for an 80 % chance; None when nobody makes that many.
    """

    effect: float
    at_a_level: int | None


def size_of(
    log: RunLog, question: Question, *, step: int, a_block: int, chips: int | None, seed: int
) -> Size:
    """
    Size a trial.

    Parameters
    ----------
    log : RunLog
        Gives rates, spread and within-run correlation.
    question : Question
    step : int
        Runs at each level that belong together: the size is a multiple of it.
    a_block : int
        Runs at each level that fit into a block.
    chips : int, optional
        A run; default what the log's runs hold.
    seed : int

    Raises
    ------
    NotEnoughError
        Nothing has failed, or more runs would be needed than anyone makes.
    """
    tested = log.runs.tested
    typical = max(1, round(float(tested[tested > 0].mean()))) if (tested > 0).any() else 1
    a_run = chips or typical
    if question.outcome in log.runs.numbers.columns:
        return _size_of_means(log, question, step, a_block, a_run, seed)
    failed = failed_of(log, question.outcome)
    rates = question.rates or _doubled(failed, tested)
    seen = bool((tested > 1).any())
    # Few failures say little of how chips fail together, and 0 would promise too much.
    nested = nesting(failed, tested, np.zeros(len(tested), dtype=int))
    correlation = nested.cautious if seen else USUAL_CORRELATION
    found = runs_at_each_level(
        rates,
        chips=a_run,
        correlation=correlation,
        step=step,
        a_block=a_block,
        power=question.power,
        alpha=question.alpha,
        seed=seed,
    )
    if found is None:
        msg = (
            f"To tell {100 * rates[0]:.1f} % from {100 * rates[1]:.1f} % failures takes more than "
            f"{2 * MOST_RUNS} runs: look for a larger effect, or keep logging."
        )
        raise NotEnoughError(msg)
    return Size(found[0], found[1], rates, None, None, a_run, correlation, seen)


def _size_of_means(
    log: RunLog, question: Question, step: int, a_block: int, chips: int, seed: int
) -> Size:
    values = log.chips[question.outcome].to_numpy(dtype=float, na_value=np.nan)
    known = ~np.isnan(values)
    run = log.chips["run"].to_numpy()[known]
    deviation, correlation = scatter_of_means(values[known], run, chips)
    if deviation == 0.0:
        msg = f"'{question.outcome}' has too few different values in the log to plan with."
        raise NotEnoughError(msg)
    difference = question.difference or deviation
    wanted = runs_for_means(difference, deviation, power=question.power, alpha=question.alpha)
    runs, power = step * math.ceil(wanted / step), 0.0
    while runs <= MOST_RUNS:
        power = simulated_mean_power(
            difference,
            deviation,
            runs,
            blocks=math.ceil(runs / a_block),
            alpha=question.alpha,
            seed=seed,
        )
        if power >= question.power:
            break
        runs += step
    if runs > MOST_RUNS:
        msg = (
            f"To see a difference of {difference:.3g} in '{question.outcome}', whose run means "
            f"scatter by {deviation:.3g}, takes more than {2 * MOST_RUNS} runs: look for a larger "
            "one."
        )
        raise NotEnoughError(msg)
    seen = len(np.unique(run)) < len(run)
    return Size(runs, power, None, difference, deviation, chips, correlation, seen)


def _doubled(failed: np.ndarray, tested: np.ndarray) -> tuple[float, float]:
    """Rates of which one is twice the other and whose mean is the log's own."""
    found = enough_to_show(failed, tested, 1)
    if found is None:
        msg = (
            "Nothing (or everything) has failed in this log, so there is no rate to plan with: say "
            "which two failure rates are to be told apart (--rates)."
        )
        raise NotEnoughError(msg)
    return found.rate_high, found.rate_low


def seen_with(plan: TrialPlan) -> tuple[SeenWith, ...]:
    """
    Tell how many runs smaller and larger effects take, for an 80 % chance.

    Failure rates by carrying trials out on paper, as the plan's own size was found; differences of
    a measured outcome by the t test.
    """
    if plan.rates is None:
        if plan.deviation is None:
            return ()
        sizes = [share * plan.deviation for share in _DEVIATIONS]
        return tuple(
            SeenWith(size, runs_for_means(size, plan.deviation, power=POWER, alpha=plan.alpha))
            for size in sizes
        )
    high = max(plan.rates)
    found = []
    for share in _SHARES:
        runs = runs_at_each_level(
            (high, high * share),
            chips=plan.chips,
            correlation=plan.correlation,
            alpha=plan.alpha,
            seed=plan.seed,
            trials=_FOR_TABLE,
        )
        found.append(SeenWith(high * share, runs[0] if runs else None))
    return tuple(found)


def pairs_within_runs(plan: TrialPlan) -> int | None:
    """
    Count the pairs of chips that would have the plan's power where a run can hold both levels.

    None where a run holds one chip, or the plan varies more than one parameter at two levels.

    Chips of one run share its luck, so that a pair within a run says more than two chips of two
    runs; the more they fail together, the more.
    """
    if plan.rates is None or plan.chips < 2 or len(plan.columns) > 1 or not plan.two_levels:
        return None
    power = min(plan.power, _SUREST)
    return chips_in_pairs(*plan.rates, plan.correlation, power=power, alpha=plan.alpha)
