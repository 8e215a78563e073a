"""The smallest trial, or longer log, that would settle the question of a review."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from weakstep.errors import LogError, NotEnoughError
from weakstep.failures.enough import (
    ALPHA,
    POWER,
    chips_per_arm,
    design_effect,
    enough_to_show,
)
from weakstep.failures.verdict import round_runs
from weakstep.failures.words import named, percent, window_words

if TYPE_CHECKING:
    import numpy as np

    from weakstep.failures.model import FailureAnalysis, Needed, Window
    from weakstep.runlog.model import RunLog

LEAST_SHARE = 0.05
SMALLER_RATIO = 1.5


@dataclass(frozen=True)
class NextTrial:
    """
    The smallest trial that would settle the review's question.

    Attributes
    ----------
    column : str or None
        Parameter to vary; None when the answer is to log more runs as they come.
    family : str or None
    runs_per_arm : int
        Runs in each of two arms, or further runs to log when `column` is None.
    rate_now, rate_hoped : float
        Failure rates the size is computed for.
    power, alpha : float
        Chance to see it, and two-sided chance of a false "yes".
    sentence : str
        The plan in one sentence.
    """

    column: str | None
    family: str | None
    runs_per_arm: int
    rate_now: float
    rate_hoped: float
    power: float
    alpha: float
    sentence: str


def next_trial(log: RunLog, analysis: FailureAnalysis) -> NextTrial | None:
    """
    Plan what would settle the review's question.

    Parameters
    ----------
    log : RunLog
    analysis : FailureAnalysis
        Of the same log.

    Returns
    -------
    NextTrial or None
        With a factor to tighten or to look closer at: runs in its window against runs as now, in
        random order, sized for the share it may prevent and for chips of one run failing
        together. Otherwise how many more runs would show a factor that doubles the failure rate.
        None when nothing has failed, or nothing was ranked against failures.
    """
    if analysis.verdict.column is not None:
        if not analysis.factors:  # the verdict rests on a measured outcome
            return None
        first = analysis.factors[0]
        if first.window is None or first.preventable_share.estimate < LEAST_SHARE:
            return None
        return _two_arms(log, analysis, first.window)
    return _more_runs(log, analysis)


def _two_arms(log: RunLog, analysis: FailureAnalysis, window: Window) -> NextTrial:
    factor, runs = analysis.factors[0], log.runs
    failed, tested = runs.failed[factor.family], runs.tested
    now = float(failed.sum() / tested.sum())
    hoped = now * (1.0 - factor.preventable_share.estimate)
    size = _runs_per_arm(now, hoped, failed, tested)
    parameter = log.process.parameter(factor.column)
    sentence = (
        f"To settle it, make {size} runs with {named(parameter)} "
        f"{window_words(window, parameter)} and {size} as it is done now, in random order: they "
        f"have an {percent(POWER)} chance to show a fall of failures from {percent(now)} to "
        f"{percent(hoped)}{_sooner(log, analysis, size)}."
    )
    return NextTrial(factor.column, factor.family, size, now, hoped, POWER, ALPHA, sentence)


def _runs_per_arm(rate_one: float, rate_two: float, failed: np.ndarray, tested: np.ndarray) -> int:
    chips = chips_per_arm(rate_one, rate_two, POWER, ALPHA) * design_effect(failed, tested)
    return max(2, math.ceil(chips / float(tested[tested > 0].mean())))


def _sooner(log: RunLog, analysis: FailureAnalysis, plain: int) -> str:
    """Say how many fewer runs than *plain* an arm of the levels of `plan_trial` needs, if fewer."""
    from weakstep.trials.names import setting_words
    from weakstep.trials.question import question_of

    try:
        levels, question = question_of(log, analysis)
    except (LogError, NotEnoughError):  # it cannot be set on purpose
        return ""
    if question.rates is None:
        return ""
    size = _runs_per_arm(*question.rates, log.runs.failed[question.outcome], log.runs.tested)
    if round_runs(size) >= plain:
        return ""
    first, last = (setting_words(log.process, levels.column, value) for value in levels.values)
    return (
        f"; where chips can be spared, about {round_runs(size)} runs at {first} and as many at "
        f"{last}, both within what the log has seen, show it sooner (the command 'weakstep trial' "
        "writes the sheet)"
    )


def _more_runs(log: RunLog, analysis: FailureAnalysis) -> NextTrial | None:
    ranked = {factor.family: 0 for factor in analysis.factors}
    if not ranked:
        return None
    if analysis.needed is not None and analysis.needed.further is not None:
        return _logged_on(analysis.needed)
    tested = log.runs.tested
    family = max(ranked, key=lambda name: int(log.runs.failed[name].sum()))
    failed = log.runs.failed[family]
    factors = len({factor.column for factor in analysis.factors})
    enough = enough_to_show(failed, tested, factors)
    words = "doubles the failure rate"
    if enough is not None and enough.further == 0:
        enough = enough_to_show(failed, tested, factors, SMALLER_RATIO)
        words = f"raises the failure rate by {percent(SMALLER_RATIO - 1.0)}"
    if enough is None or enough.further == 0:
        return None
    sentence = (
        f"Log about {enough.further} more runs as they come: a factor that {words} (from "
        f"{percent(enough.rate_low)} to {percent(enough.rate_high)}) would then show with "
        f"{percent(POWER)} chance."
    )
    return NextTrial(
        None,
        family,
        enough.further,
        enough.rate_low,
        enough.rate_high,
        POWER,
        enough.alpha,
        sentence,
    )


def _logged_on(needed: Needed) -> NextTrial | None:
    """Return what the simulation of longer logs says, None when this one is long enough."""
    further = needed.further
    if further is None or further.estimate <= 0.0:
        return None
    more, few, many = (round_runs(end) for end in (further.estimate, further.lower, further.upper))
    sentence = (
        f"Log about {more} more runs ({few} to {many}) as they come: a parameter with "
        f"{percent(needed.rate_low)} failures in the lower half of its values and "
        f"{percent(needed.rate_high)} in the upper half would then stand out with "
        f"{percent(needed.power)} chance."
    )
    return NextTrial(
        None,
        needed.family,
        more,
        needed.rate_low,
        needed.rate_high,
        needed.power,
        ALPHA,
        sentence,
    )
