"""Limits for a stated chance of any false alarm in a semester, over all charts together."""

from __future__ import annotations

import math
from dataclasses import dataclass

SLOW, FAST = 0.5, 1.0  # allowances: best for shifts of 1 and of 2 sigmas
SHARES = (1.0, 1.0, 0.25)  # parts of a column's chance: slow sums, fast sums, spread
FOR_COLUMNS, FOR_FAILURES, FOR_JOINT = 0.8, 0.15, 0.05  # shares of the chance of the whole watch
# Limits as quadratics of log chance and log length, made by tests/benchmark/watch_limits.py from
# 400 000 semesters a length; chances come out within 8 % of those asked from 30 to 480 runs.
_CURVES = {
    "slow": (-1.69889, 0.86971, 1.37976, -0.00376, 0.03429, -0.03648),
    "fast": (-0.54884, 0.54577, 0.58273, -0.00400, 0.00047, -0.00527),
    "spread": (-1.41992, 0.78780, 1.61202, -0.00147, 0.04468, -0.06464),
}
_FEWEST_RUNS = 10


@dataclass(frozen=True)
class ColumnLimits:
    """Decision limits of a parameter's sums, in sigmas: slow, fast (both ways) and spread."""

    slow: float
    fast: float
    spread: float


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


def column_limits(runs: int, chance: float) -> ColumnLimits:
    """
    Limits of one parameter's five sums for the chance that any signals.

    Scores are independent and standard normal whatever the baseline
    (`weakstep.watching.scores.sequential_scores`), so that limits depend on length and chance
    only. The slow and the fast sums take equal parts of the chance, the spread a quarter of one.

    Parameters
    ----------
    runs : int
        Length of a semester; below 10 as for 10.
    chance : float
        Of any signal of a stable parameter within them.

    Returns
    -------
    ColumnLimits

    Examples
    --------
    >>> limits = column_limits(110, 0.002)
    >>> round(limits.slow, 1), round(limits.fast, 1), round(limits.spread, 1)
    (10.2, 5.3, 10.9)
    """
    terms = powers(runs, chance)
    return ColumnLimits(
        **{
            name: sum(a * b for a, b in zip(curve, terms, strict=True))
            for name, curve in _CURVES.items()
        }
    )


def share_of(chance: float, share: float, charts: int = 1) -> float:
    """
    Return the chance each of several charts may take: those of all join to *share* of *chance*.

    Examples
    --------
    >>> round(share_of(0.05, 0.8, 20), 5)
    0.00204
    """
    return float(1.0 - (1.0 - chance * share) ** (1.0 / max(1, charts)))
