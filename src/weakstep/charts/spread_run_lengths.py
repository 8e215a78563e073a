"""Run lengths of charts of spread: single values with moving ranges, ranges, deviations."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np

from weakstep.charts.chain import Chain, told
from weakstep.charts.checks import chance, real, whole_number
from weakstep.charts.factors import constants, range_cdf
from weakstep.charts.normal import normal_pdf
from weakstep.charts.panels import PanelGrid
from weakstep.charts.run_length_laws import RunLengthLaw, law_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_MOST_LIMIT = 50.0  # sigmas; no limit beyond is drawn in earnest


def individuals_law(
    shift: float = 0.0,
    spread: float = 1.0,
    *,
    width: float = 3.0,
    range_limit: float | None = None,
) -> RunLengthLaw:
    r"""
    Distribution of the run length of an individuals chart together with its moving ranges.

    A signal is a value beyond *width* or a moving range beyond *range_limit*, limits known. The
    last value *y* is the state: :math:`A(y) = 1 + \int A(x) f(x) dx` over :math:`|x| \le w` and
    :math:`|x - y| \le r`; the first point has no moving range. The moving ranges cost a stable
    chart most of its run length.

    Parameters
    ----------
    shift : float, default 0
        Of the mean, in sigmas, from the start.
    spread : float, default 1
        Standard deviation, in sigmas of the stable process, from 0.05.
    width : float, default 3
        Limits of single values, in sigmas.
    range_limit : float, optional
        Upper limit of moving ranges, in sigmas; default :math:`D_2 = 3.686` of the three-sigma
        chart.

    Returns
    -------
    RunLengthLaw
        In points.

    Raises
    ------
    ValueError
        An argument is out of range.

    References
    ----------
    S. V. Crowder (1987), Computation of ARL for combined individual measurement and moving range
    charts, Journal of Quality Technology 19, 98-102.

    Examples
    --------
    >>> law = individuals_law()
    >>> round(law.average, 1), round(individuals_law(1.0).average, 1)
    (105.3, 37.5)
    """
    real("shift", shift, least=-_MOST_LIMIT, most=_MOST_LIMIT)
    real("spread", spread, least=0.05, most=1e3)
    real("width", width, above=0.0, most=_MOST_LIMIT)
    reach = constants(2).D2 if range_limit is None else real("range_limit", range_limit, above=0.0)
    kinks = [way * (width - reach * count) for way in (-1.0, 1.0) for count in range(1, 9)]
    grid = PanelGrid.over(-width, width, kinks, min(spread, 1.0))

    def density(places: Floats) -> Floats:
        return normal_pdf((places - shift) / spread) / spread

    def step(states: Floats, _: float) -> Floats:
        return grid.integrals(states - reach, states + reach, density)

    chain = Chain(grid.places, np.ones(len(grid.places)), step)
    first = grid.integrals(np.array([-width]), np.array([width]), density)[0]
    average = told(1.0 + float(first @ chain.run_lengths(0.0)))
    return law_of(chain.survivals(first, 0.0), average, memory=2)


def spread_run_length(
    n: int,
    ratio: float = 1.0,
    *,
    statistic: Literal["range", "standard deviation"] = "range",
    lower: float | None = None,
    upper: float | None = None,
) -> float:
    r"""
    Average run length of a chart of subgroup ranges or standard deviations, limits known.

    One over the chance of a point beyond the limits; that of a range is an integral, and
    :math:`(n - 1) s^2 / \sigma^2` is chi-squared.

    Parameters
    ----------
    n : int
        Values in a subgroup, at least 2.
    ratio : float, default 1
        Standard deviation now over that of the stable process.
    statistic : {"range", "standard deviation"}
    lower, upper : float, optional
        Limits in sigmas of the stable process; default three sigma (:math:`D_1, D_2` or
        :math:`B_5, B_6`). Those of a stated chance: `range_quantile`.

    Returns
    -------
    float
        In subgroups; infinite where a signal is too seldom for a number.

    Raises
    ------
    ValueError
        An argument is out of range.

    References
    ----------
    D. C. Montgomery, Introduction to Statistical Quality Control, chapter on charts of variables.

    Examples
    --------
    >>> round(spread_run_length(5), 1), round(spread_run_length(5, 2.0), 2)
    (217.2, 2.44)
    """
    from scipy.special import chdtr, chdtrc

    point = constants(n)
    if statistic not in ("range", "standard deviation"):
        msg = f"statistic must be 'range' or 'standard deviation', got {statistic!r}"
        raise ValueError(msg)
    by_range = statistic == "range"
    usual = (point.D1, point.D2) if by_range else (point.B5, point.B6)
    low = usual[0] if lower is None else real("lower", lower, least=0.0, most=_MOST_LIMIT)
    high = usual[1] if upper is None else real("upper", upper, above=0.0, most=_MOST_LIMIT)
    if not low < high:
        msg = f"lower must lie below upper, got {low:g} and {high:g}"
        raise ValueError(msg)
    now = real("ratio", ratio, least=1e-3, most=1e3)
    if by_range:
        below, within = range_cdf([low / now, high / now], point.n)
        beyond = float(below + max(0.0, 1.0 - within))
    else:
        freedom = point.n - 1
        squares = [freedom * (limit / now) ** 2 for limit in (low, high)]
        beyond = float(chdtr(freedom, squares[0]) + chdtrc(freedom, squares[1]))
    return told(1.0 / beyond) if beyond > 0.0 else math.inf


def range_quantile(level: float, n: int) -> float:
    """
    Range of *n* standard normal values that is not passed with a chance of *level*.

    Limits of a range chart with a stated chance, and percentage points of the range.

    Parameters
    ----------
    level : float
        Between 0 and 1.
    n : int
        At least 2.

    Returns
    -------
    float
        In sigmas.

    Raises
    ------
    ValueError
        An argument is out of range.

    References
    ----------
    H. L. Harter (1960), Tables of range and studentized range, Annals of Mathematical
    Statistics 31, 1122-1147.

    Examples
    --------
    >>> round(range_quantile(0.95, 2), 2), round(range_quantile(0.999, 5), 2)
    (2.77, 5.48)
    """
    from scipy.optimize import brentq

    chance("level", level)
    whole_number("n", n, 2)
    return float(
        brentq(lambda width: float(range_cdf([width], n)[0]) - level, 0.0, 40.0, xtol=1e-10)
    )
