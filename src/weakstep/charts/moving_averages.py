"""Charts of moving averages: the mean of the last few values, with limits and run lengths."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import degrees, real, whole_number
from weakstep.charts.frozen import frozen
from weakstep.charts.model import Chart, Limits
from weakstep.charts.moving_average_laws import LONGEST_SPAN, short_span_survivals
from weakstep.charts.patterns import find_signals
from weakstep.charts.row_checks import one_row
from weakstep.charts.run_length_laws import RunLengthLaw, law_of
from weakstep.charts.set_limits import FAR, goal_of
from weakstep.charts.zone_chain import USUAL_WIDTH

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

_NARROWEST, _WIDEST = 0.1, 5.0  # standard deviations of the average
_FURTHEST = 50.0  # sigmas


def moving_average(
    values: ArrayLike,
    *,
    target: float,
    sigma: float,
    span: int = 4,
    width: float = USUAL_WIDTH,
    sigma_from: str = "given",
    degrees_of_freedom: float = math.inf,
) -> Chart:
    r"""
    Chart of the mean of the last few values.

    The average at point *i* is that of the last :math:`m = \min(i, w)` values, with limits at
    :math:`\mu_0 \pm L \sigma / \sqrt m`, so that the first points have wider ones. A missing value
    is passed over. A longer memory than five values is better had by `ewma`.

    Parameters
    ----------
    values : array_like, shape (n_points,)
        In time order, in one unit; NaN where not logged.
    target, sigma : float
        Mean and standard deviation of a stable value, in the unit of *values*.
    span : int, default 4
        *w*, values in an average, from 2 to 5.
    width : float, default 3
        *L*, in standard deviations of the average, from 0.1 to 5.
    sigma_from : str
        How *sigma* was found, as a phrase.
    degrees_of_freedom : float
        Of *sigma*; infinite where it is known.

    Returns
    -------
    Chart
        Values are the averages; `limits.sigma` is that of a single value.

    Raises
    ------
    ValueError
        An argument is out of range.

    References
    ----------
    S. W. Roberts (1959), Control chart tests based on geometric moving averages, Technometrics 1,
    239-250 (moving averages are compared there). D. C. Montgomery, Introduction to Statistical
    Quality Control, chapter on time-weighted charts.

    Examples
    --------
    >>> chart = moving_average([9.45, 7.99, 9.29, 11.66], target=10.0, sigma=1.0, span=3)
    >>> chart.values.round(3).tolist(), chart.limits.upper.round(3).tolist()
    ([9.45, 8.72, 8.91, 9.647], [13.0, 12.121, 11.732, 11.732])
    """
    shown = one_row(values)
    real("target", target)
    real("sigma", sigma, above=0.0)
    law = moving_average_law(span, width)
    logged = ~np.isnan(shown)
    off = (shown[logged] - target) / sigma
    held = np.minimum(np.arange(1, len(off) + 1), int(span))
    sums = np.concatenate([np.zeros(1), np.cumsum(off)])
    place = np.arange(1, len(off) + 1)
    averages = np.full(shown.shape, np.nan)
    averages[logged] = (sums[place] - sums[place - held]) / held
    counted = np.clip(np.cumsum(logged), 1, int(span))
    error = 1.0 / np.sqrt(counted)
    return Chart(
        kind="moving average",
        values=frozen(target + sigma * averages),
        limits=Limits(
            centre=float(target),
            lower=frozen(target - width * sigma * error),
            upper=frozen(target + width * sigma * error),
            sigma=float(sigma),
            sigma_from=sigma_from,
            degrees_of_freedom=degrees("degrees_of_freedom", degrees_of_freedom),
        ),
        signals=find_signals(USUAL_WIDTH * averages / (width * error), ("beyond_limit",)),
        false_alarm=1.0 - law.survival(len(off)),
    )


def moving_average_law(span: int, width: float, shift: float = 0.0) -> RunLengthLaw:
    r"""
    Distribution of the run length of a moving-average chart of normal values.

    Exactly for the limits of `moving_average`, those of the first points among them, by quadrature
    over the last values (`weakstep.charts.moving_average_laws`): eight digits for spans up to 4,
    five for a span of 5.

    Parameters
    ----------
    span : int
        Values in an average, from 2 to 5.
    width : float
        *L*, in standard deviations of the average, from 0.1 to 5.
    shift : float, default 0
        Of the mean from the start, in sigmas of a single value.

    Returns
    -------
    RunLengthLaw
        Average, standard deviation, quantiles and survival, in points.

    Raises
    ------
    ValueError
        An argument is out of range.

    References
    ----------
    As for `moving_average`.

    Examples
    --------
    >>> stable, moved = (moving_average_law(3, 3.0, shift) for shift in (0.0, 1.0))
    >>> round(stable.average, 2), round(moved.average, 2), moved.quantile(0.5)
    (433.99, 16.61, 12)
    """
    count = whole_number("span", span, 2)
    if count > LONGEST_SPAN:
        msg = f"span must be from 2 to {LONGEST_SPAN}, got {span}: take ewma for a longer memory"
        raise ValueError(msg)
    reach = real("width", width, least=_NARROWEST, most=_WIDEST)
    return _law(count, reach, real("shift", shift, least=-_FURTHEST, most=_FURTHEST))


@lru_cache(maxsize=64)
def _law(span: int, width: float, shift: float) -> RunLengthLaw:
    """Follow a chart once for each of its kinds."""
    return law_of(short_span_survivals(span, width, shift), memory=span)


def moving_average_run_length(span: int, width: float, shift: float = 0.0) -> float:
    """
    Average run length of a moving-average chart: the average of `moving_average_law`.

    Parameters
    ----------
    span, width, shift
        As for `moving_average_law`.

    Returns
    -------
    float
        In points.

    Raises
    ------
    ValueError
        An argument is out of range.

    Examples
    --------
    >>> round(moving_average_run_length(2, 3.0), 2), round(moving_average_run_length(2, 3.0, 1), 2)
    (393.09, 22.55)
    """
    return moving_average_law(span, width, shift).average


def moving_average_width(
    span: int,
    *,
    run_length: float | None = None,
    family_wise: float | None = None,
    n_points: int = 1,
    n_charts: int = 1,
) -> float:
    """
    Width of the limits of a moving-average chart, in standard deviations of the average.

    Parameters
    ----------
    span : int
        Values in an average, from 2 to 5.
    run_length, family_wise, n_points, n_charts
        As for `weakstep.charts.set_limits.shewhart_width`.

    Returns
    -------
    float
        *L* of `moving_average`, no unit.

    Raises
    ------
    ValueError
        An argument is out of range, or no width from 0.1 to 5 gives what is asked.

    Examples
    --------
    >>> round(moving_average_width(3, run_length=370.4), 3)
    2.949
    """
    from scipy.optimize import brentq

    wanted, each = goal_of(run_length, family_wise, n_points, n_charts)

    def excess(width: float) -> float:
        law = moving_average_law(span, width)
        if family_wise is None:
            return min(law.average / wanted - 1.0, FAR)
        return law.survival(n_points) - 1.0 + each

    for width, sign, words in ((_NARROWEST, 1.0, "later"), (_WIDEST, -1.0, "sooner")):
        if sign * excess(width) > 0.0:
            msg = f"even a width of {width:g} signals {words} than asked: ask for something else"
            raise ValueError(msg)
    return float(brentq(excess, _NARROWEST, _WIDEST, xtol=1e-7))
