r"""
The inverse of run lengths: limits for a stated average run length, or a stated chance of alarm.

A semester of N points over M charts has a chance *a* of any false alarm when each chart has
:math:`1 - (1 - a)^{1/M}`, charts taken as independent; charts that move together only lower it.
"""

from __future__ import annotations

from collections.abc import Callable

from weakstep.charts.checks import chance
from weakstep.charts.cusum_run_lengths import cusum_run_length, cusum_survival
from weakstep.charts.ewma_run_lengths import ewma_run_length, ewma_survival

_LONGEST = 1e9  # points; no longer average run length is asked for in earnest


def share_of_each(family_wise: float, n_charts: int) -> float:
    """
    Chance of a false alarm that each of *n_charts* charts may have.

    Parameters
    ----------
    family_wise : float
        Chance of any false alarm.
    n_charts : int
        At least 1.

    Examples
    --------
    >>> round(share_of_each(0.05, 20), 6)
    0.002561
    """
    if n_charts < 1:
        msg = f"n_charts must be at least 1, got {n_charts}"
        raise ValueError(msg)
    return float(1.0 - (1.0 - chance("family_wise", family_wise)) ** (1.0 / n_charts))


def shewhart_width(
    *,
    run_length: float | None = None,
    family_wise: float | None = None,
    n_points: int = 1,
    n_charts: int = 1,
) -> float:
    r"""
    Width of the limits of a chart that signals points beyond them only, in sigmas.

    :math:`\Phi^{-1}(1 - a/2)` with *a* the chance a point: 1 / *run_length*, or what *family_wise*
    leaves each of *n_points* x *n_charts* points.

    Parameters
    ----------
    run_length : float, optional
        Average run length of a stable chart, in points; above 1.
    family_wise : float, optional
        Chance of any false alarm; give one of the two.
    n_points, n_charts : int
        Points a chart, and charts, for *family_wise*.

    Examples
    --------
    >>> round(shewhart_width(run_length=370.3983), 4)
    3.0
    >>> round(shewhart_width(family_wise=0.05, n_points=150, n_charts=20), 3)
    4.3
    """
    from scipy.special import ndtri

    wanted, each = _goal(run_length, family_wise, n_charts)
    point = 1.0 / wanted if family_wise is None else share_of_each(each, n_points)
    return float(-ndtri(point / 2.0))


def ewma_width(
    weight: float,
    *,
    run_length: float | None = None,
    family_wise: float | None = None,
    n_points: int = 1,
    n_charts: int = 1,
    constant_limits: bool = True,
) -> float:
    """
    Width of the limits of an EWMA chart, in standard deviations of the weighted mean.

    Parameters
    ----------
    weight : float
        Of the newest value.
    run_length, family_wise, n_points, n_charts
        As for `shewhart_width`.
    constant_limits : bool, default True
        False: limits that grow with the number of points.

    Examples
    --------
    >>> round(ewma_width(0.1, run_length=500.0), 3)
    2.814
    """
    wanted, each = _goal(run_length, family_wise, n_charts)

    def excess(width: float) -> float:
        if family_wise is None:
            return ewma_run_length(weight, width, constant_limits=constant_limits) / wanted - 1.0
        left = ewma_survival(n_points, weight, width, constant_limits=constant_limits)
        return float(left[-1]) - 1.0 + each

    return _solve(excess)


def cusum_decision(
    allowance: float,
    *,
    run_length: float | None = None,
    family_wise: float | None = None,
    n_points: int = 1,
    n_charts: int = 1,
    head_start_share: float = 0.0,
) -> float:
    """
    Decision limit of a two-sided CUSUM, in sigmas.

    Parameters
    ----------
    allowance : float
        *k*, in sigmas.
    run_length, family_wise, n_points, n_charts
        As for `shewhart_width`; a chart is both sides together, and their joint chance is exact.
    head_start_share : float, default 0
        Head start as a share of the limit; 0.5 is the fast initial response.

    Examples
    --------
    >>> round(cusum_decision(0.5, run_length=370.0), 2)
    4.77
    """
    wanted, each = _goal(run_length, family_wise, n_charts)
    if not 0.0 <= head_start_share < 1.0:
        msg = f"head_start_share must lie from 0 to below 1, got {head_start_share}"
        raise ValueError(msg)

    def excess(limit: float) -> float:
        start = head_start_share * limit
        if family_wise is None:
            return cusum_run_length(allowance, limit, head_start=start) / wanted - 1.0
        left = cusum_survival(n_points, allowance, limit, head_start=start, two_sided=True)
        return float(left[-1]) - 1.0 + each

    return _solve(excess)


def _solve(excess: Callable[[float], float]) -> float:
    """Limit at which *excess*, which grows with it, changes sign, to six decimals."""
    from scipy.optimize import brentq

    least, most = 1e-3, 1.0
    while excess(most) < 0.0:
        least, most = most, 1.5 * most
    return float(brentq(excess, least, most, xtol=1e-7))


def _goal(
    run_length: float | None, family_wise: float | None, n_charts: int
) -> tuple[float, float]:
    """Average run length and chance of alarm of each chart that are wanted; the other is NaN."""
    if (run_length is None) == (family_wise is None):
        msg = "give either run_length or family_wise"
        raise ValueError(msg)
    if family_wise is not None:
        return float("nan"), share_of_each(family_wise, n_charts)
    wanted = float("nan") if run_length is None else run_length
    if not 1.0 < wanted < _LONGEST:
        msg = f"run_length must be above 1 and below {_LONGEST:g} points, got {run_length}"
        raise ValueError(msg)
    return wanted, float("nan")
