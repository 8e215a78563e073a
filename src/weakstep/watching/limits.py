"""Limits for a stated chance of any false alarm in a semester, over all charts together."""

from __future__ import annotations

import math

SHIFTS = (1.0, 2.0)  # changes of level that are looked for, in standard deviations
WEIGHTS = (0.45, 0.45, 0.1)  # of either shift, half of it a way, and of a spread that doubles
AT_THE_SEAM = 10.0  # times as likely as at any later run: a change at the first new run
FOR_COLUMNS, FOR_FAILURES, FOR_JOINT = 0.78, 0.2, 0.02  # shares of the chance of the whole watch
# The log of the limit as a quadratic of log chance and log length, made by
# tests/benchmark/watch_limits.py from 1 000 000 semesters a length.
_CURVE = (-0.07185, 0.90900, 0.78711, -0.00289, 0.02073, 0.01270)
_FEWEST_RUNS = 10


def powers(runs: int, chance: float) -> tuple[float, ...]:
    r"""
    Return the terms of the quadratics: 1, x, y, xx, xy, yy; x = -ln chance, y = ln runs.

    Examples
    --------
    >>> [round(term, 2) for term in powers(10, 0.1)]
    [1.0, 2.3, 2.3, 5.3, 5.3, 5.3]
    """
    x, y = -math.log(chance), math.log(max(runs, _FEWEST_RUNS))
    return (1.0, x, y, x * x, x * y, y * y)


def evidence_limit(runs: int, chance: float) -> float:
    """
    Limit of the evidence of one parameter (`weakstep.watching.evidence`).

    Scores are independent and standard normal whatever the baseline
    (`weakstep.watching.scores.sequential_scores`), so that it depends on length and chance only.
    The mean of the evidence after *n* runs being *n* + 9, it is at most about (*n* + 9) / *chance*;
    it is less, for the evidence jumps beyond the limit.

    Parameters
    ----------
    runs : int
        Length of a semester; below 10 as for 10.
    chance : float
        Of a signal of a stable parameter within them.

    Returns
    -------
    float

    Examples
    --------
    >>> round(math.log(evidence_limit(110, 0.002)), 1)
    10.1
    """
    terms = powers(runs, chance)
    return math.exp(sum(a * b for a, b in zip(_CURVE, terms, strict=True)))


def share_of(chance: float, share: float, charts: int = 1) -> float:
    """
    Return the chance each of several charts may take: those of all join to *share* of *chance*.

    Examples
    --------
    >>> round(share_of(0.05, 0.8, 20), 5)
    0.00204
    """
    return float(1.0 - (1.0 - chance * share) ** (1.0 / max(1, charts)))
