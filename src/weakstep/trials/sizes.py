"""How many runs a question needs, from published sample-size formulas."""

from __future__ import annotations

from dataclasses import dataclass


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
