"""What a trial is to settle: asked by the user, or by a review's verdict."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.errors import LogError, NotEnoughError
from weakstep.failures.enough import ALPHA, LARGEST_RATE, POWER
from weakstep.trials.levels import choose_levels
from weakstep.trials.planned import FAILURES
from weakstep.trials.sizes import LEAST_SHARE

if TYPE_CHECKING:
    from weakstep.failures.model import Factor, FailureAnalysis
    from weakstep.runlog.model import RunLog
    from weakstep.trials.levels import Levels

LEAST_APART = 1.5  # times; a rate at the far level that is not clearly higher settles nothing


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


def question_of(
    log: RunLog, analysis: FailureAnalysis, power: float = POWER, alpha: float = ALPHA
) -> tuple[Levels, Question]:
    """
    Turn the review's verdict into levels and a question: inside the window against outside it.

    Where the verdict rests on a measured outcome, for want of failures, the question is about that
    outcome, at levels that the log often reached.

    The levels lie as far apart as the log's runs usually went, which makes the trial small. The
    rates come from the fitted curve: its estimate inside, and outside the lower end of its band,
    because the first parameter of a ranking looks stronger than it is. Without a curve, or where
    that end is not clearly higher, the rate inside is the log's own less the preventable share, and
    the rate outside what is then left for the runs outside.

    Raises
    ------
    NotEnoughError
        The verdict names no parameter with a window.
    """
    first = analysis.factors[0] if analysis.factors else None
    if first is None and analysis.verdict.column is not None:
        column = analysis.verdict.column
        outcome = next(one for one in analysis.measured if one.links[0].column == column)
        return choose_levels(log, column), Question(outcome.column, power=power, alpha=alpha)
    if analysis.verdict.column is None or first is None or first.window is None:
        msg = (
            "The review of this log names no parameter to tighten, so there is nothing to settle "
            "yet. Name one yourself: --vary NAME."
        )
        raise NotEnoughError(msg)
    levels = choose_levels(log, first.column, window=first.window)
    rates = _curve_rates(first, levels) or _share_rates(log, first)
    return levels, Question(first.family, rates, None, power, alpha)


def _curve_rates(factor: Factor, levels: Levels) -> tuple[float, float] | None:
    """Higher and lower rate at the two levels, the higher one with caution."""
    curve = factor.curve
    if curve is None or len(curve.values) < 2:
        return None
    order = np.argsort(curve.values)
    ends = [levels.values[0], levels.values[-1]]
    likely, least = (
        np.interp(ends, curve.values[order], some[order]) for some in (curve.estimate, curve.lower)
    )
    worse = int(np.argmax(likely))
    high, low = float(least[worse]), float(likely[1 - worse])
    return (min(high, LARGEST_RATE), low) if high >= LEAST_APART * low > 0.0 else None


def _share_rates(log: RunLog, factor: Factor) -> tuple[float, float]:
    failed, tested = failed_of(log, factor.family), log.runs.tested
    now = float(failed.sum() / tested.sum())
    hoped = now * (1.0 - max(factor.preventable_share.estimate, LEAST_SHARE))
    inside = factor.share_inside if factor.share_inside is not None else 0.5
    outside = now if inside >= 1.0 else (now - inside * hoped) / (1.0 - inside)
    return min(max(outside, now), LARGEST_RATE), hoped


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
