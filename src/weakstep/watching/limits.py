"""Limits for a stated chance of any false alarm in a semester, over all charts together."""

from __future__ import annotations

import math
from dataclasses import dataclass

SLOW, FAST = 0.5, 1.0  # allowances: best for shifts of 1 and of 2 sigmas
SHARES = (1.3, 0.8, 0.2)  # parts of a column's chance: slow sums, fast sums, spread
_AT_THE_SEAM = 10.0  # times as likely as at any later run: a change at the first new run
FOR_COLUMNS, FOR_FAILURES, FOR_JOINT = 0.88, 0.1, 0.02  # shares of the chance of the whole watch
# Limits as quadratics of log chance and log length, made by tests/benchmark/watch_limits.py from
# 300 000 semesters a length; chances come out within 8 % of those asked from 30 to 480 runs.
_CURVES = {
    "slow": (1.60643, 1.00140, 0.18548, -0.01147, 0.02093, 0.06213),
    "fast": (0.53038, 0.55046, 0.27711, -0.00492, 0.00136, 0.01886),
    "spread": (2.31207, 0.96894, 0.37356, -0.01000, 0.02884, 0.04082),
}
_FEWEST_RUNS = 10


@dataclass(frozen=True)
class ColumnLimits:
    """Decision limits of a parameter's sums, in sigmas: slow, fast (both ways) and spread."""

    slow: float
    fast: float
    spread: float


def head_start(allowance: float) -> float:
    r"""
    Where a sum begins, in sigmas: :math:`\ln 10 / (2k)`.

    Much changes between the last run of a baseline and the first new one, or at a service: a
    change there counts as ten times as likely beforehand as one at any later run, and a log
    likelihood ratio of :math:`\ln 10` is worth that much of a sum with allowance *k*.

    References
    ----------
    J. M. Lucas and R. B. Crosier (1982), Fast initial response for CUSUM quality-control schemes,
    Technometrics 24, 199-205 (sums that begin above 0; from memory).

    Examples
    --------
    >>> round(head_start(0.5), 2), round(head_start(1.0), 2)
    (2.3, 1.15)
    """
    return math.log(_AT_THE_SEAM) / (2.0 * allowance)


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
    only. Of the chance the slow sums take 1.3 parts, the fast ones 0.8, the spread 0.2. Sums begin
    at their `head_start`.

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
    (10.2, 5.5, 11.4)
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
