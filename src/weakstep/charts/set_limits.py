r"""
The inverse of run lengths: limits for a stated average run length, or a stated chance of alarm.

A semester of N points over M charts has a chance *a* of any false alarm when each chart has
:math:`1 - (1 - a)^{1/M}`, charts taken as independent; charts that move together only lower it.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from weakstep.charts.checks import chance, real, whole_number
from weakstep.charts.cusum_chains import Both
from weakstep.charts.cusum_run_lengths import cusum_run_length, cusum_survival
from weakstep.charts.ewma_run_lengths import ewma_run_length, ewma_survival
from weakstep.charts.normal import normal_cdf

_NARROWEST = 1e-3  # sigmas
FAR = 1e6  # times the wanted run length: enough to show that a limit is too wide
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

    Returns
    -------
    float
        Between 0 and 1.

    Raises
    ------
    ValueError
        *family_wise* does not lie between 0 and 1, or *n_charts* is below 1.

    Examples
    --------
    >>> round(share_of_each(0.05, 20), 6)
    0.002561
    """
    whole_number("n_charts", n_charts, 1)
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

    Returns
    -------
    float
        In sigmas.

    Raises
    ------
    ValueError
        An argument is out of range, or both or none of the two are given.

    Examples
    --------
    >>> round(shewhart_width(run_length=370.3983), 4)
    3.0
    >>> round(shewhart_width(family_wise=0.05, n_points=150, n_charts=20), 3)
    4.3
    """
    from scipy.special import ndtri

    wanted, each = goal_of(run_length, family_wise, n_points, n_charts)
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
    shewhart_limit: float | None = None,
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
    shewhart_limit : float, optional
        Limit for single values of a combined Shewhart-EWMA chart, in sigmas.

    Returns
    -------
    float
        *L* of `weakstep.charts.weighted.ewma`, no unit.

    Raises
    ------
    ValueError
        An argument is out of range, or no width gives what is asked.

    Examples
    --------
    >>> round(ewma_width(0.1, run_length=500.0), 3)
    2.814
    """
    wanted, each = goal_of(run_length, family_wise, n_points, n_charts)
    _leaves_room(shewhart_limit, wanted, each, n_points)

    def excess(width: float) -> float:
        if family_wise is None:
            found = ewma_run_length(
                weight, width, constant_limits=constant_limits, shewhart_limit=shewhart_limit
            )
            return min(found / wanted - 1.0, FAR)
        left = ewma_survival(
            n_points,
            weight,
            width,
            constant_limits=constant_limits,
            shewhart_limit=shewhart_limit,
        )
        return float(left[-1]) - 1.0 + each

    return solved(excess)


def cusum_decision(
    allowance: Both,
    *,
    run_length: float | None = None,
    family_wise: float | None = None,
    n_points: int = 1,
    n_charts: int = 1,
    head_start_share: float = 0.0,
    two_sided: bool = True,
    shewhart_limit: float | None = None,
) -> float:
    """
    Decision limit of a CUSUM, in sigmas; the same for both sides.

    Parameters
    ----------
    allowance : float or pair of float
        *k*, in sigmas; a pair is (up, down).
    run_length, family_wise, n_points, n_charts
        As for `shewhart_width`; a chart is both sides together, and their joint chance is exact for
        sides alike, else as `weakstep.charts.cusum_chains` tells.
    head_start_share : float, default 0
        Head start as a share of the limit; 0.5 is the fast initial response.
    two_sided : bool, default True
        False: upward sums only.
    shewhart_limit : float, optional
        Limit for single values of a combined Shewhart-CUSUM chart, in sigmas.

    Returns
    -------
    float
        *h*, in sigmas.

    Raises
    ------
    ValueError
        An argument is out of range, or no limit gives what is asked.

    Examples
    --------
    >>> round(cusum_decision(0.5, run_length=370.0), 2)
    4.77
    """
    wanted, each = goal_of(run_length, family_wise, n_points, n_charts)
    share = real("head_start_share", head_start_share, least=0.0)
    if not share < 1.0:
        msg = f"head_start_share must lie from 0 to below 1, got {head_start_share}"
        raise ValueError(msg)
    _leaves_room(shewhart_limit, wanted, each, n_points, sides=2 if two_sided else 1)

    def excess(limit: float) -> float:
        start = share * limit
        if family_wise is None:
            found = cusum_run_length(
                allowance,
                limit,
                head_start=start,
                two_sided=two_sided,
                shewhart_limit=shewhart_limit,
            )
            return min(found / wanted - 1.0, FAR)
        left = cusum_survival(
            n_points,
            allowance,
            limit,
            head_start=start,
            two_sided=two_sided,
            shewhart_limit=shewhart_limit,
        )
        return float(left[-1]) - 1.0 + each

    return solved(excess)


def _leaves_room(
    single: float | None, wanted: float, each: float, n_points: int, *, sides: int = 2
) -> None:
    """Raise ValueError when a limit for single values by itself signals more than is asked."""
    if single is None:
        return
    tail = sides * float(normal_cdf(-real("shewhart_limit", single, above=0.0)))
    if tail == 0.0:
        return
    too_often = 1.0 / tail <= wanted if math.isnan(each) else 1.0 - (1.0 - tail) ** n_points >= each
    if too_often:
        msg = f"shewhart_limit alone signals sooner than asked; it must be above {single:g}"
        raise ValueError(msg)


def solved(excess: Callable[[float], float]) -> float:
    """
    Limit at which *excess*, which grows with it, changes sign, to six decimals.

    Raises
    ------
    ValueError
        Even the narrowest limit does not signal as often as asked.
    """
    from scipy.optimize import brentq

    least, most = _NARROWEST, 1.0
    if excess(least) > 0.0:
        msg = "even limits of width 0 do not signal so soon: ask for a longer run length"
        raise ValueError(msg)
    while excess(most) < 0.0:
        least, most = most, 1.5 * most
    return float(brentq(excess, least, most, xtol=1e-7))


def goal_of(
    run_length: float | None, family_wise: float | None, n_points: int, n_charts: int
) -> tuple[float, float]:
    """Average run length and chance of alarm of each chart that are wanted; the other is NaN."""
    if (run_length is None) == (family_wise is None):
        msg = "give either run_length or family_wise"
        raise ValueError(msg)
    whole_number("n_points", n_points, 1)
    if family_wise is not None:
        return math.nan, share_of_each(family_wise, n_charts)
    wanted = real("run_length", math.nan if run_length is None else run_length, above=1.0)
    if not wanted < _LONGEST:
        msg = f"run_length must be above 1 and below {_LONGEST:g} points, got {run_length}"
        raise ValueError(msg)
    return wanted, math.nan
