"""Charts of exponentially weighted means."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import degrees, real
from weakstep.charts.ewma_run_lengths import ewma_survival
from weakstep.charts.frozen import frozen
from weakstep.charts.model import Chart, Limits
from weakstep.charts.patterns import find_signals
from weakstep.charts.row_checks import one_row
from weakstep.charts.single_signals import single_signals
from weakstep.charts.zone_chain import USUAL_WIDTH

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]


def weighted_means(values: ArrayLike, weight: float, start: float) -> Floats:
    r"""
    Exponentially weighted means :math:`z_i = \lambda x_i + (1 - \lambda) z_{i-1}`.

    Parameters
    ----------
    values : array_like, shape (n_points,) or (n_points, n_variables)
        In time order; no NaN.
    weight : float
        Of the newest value, :math:`\lambda`, above 0 and at most 1.
    start : float
        :math:`z_0`, in the unit of *values*.

    Returns
    -------
    array
        Same shape as *values*.

    Examples
    --------
    >>> weighted_means([52.0, 47.0], 0.3, 50.0).tolist()
    [50.6, 49.52]
    """
    smooth = np.array(values, dtype=float)
    before = np.broadcast_to(np.asarray(start, dtype=float), smooth.shape[1:])
    for place, value in enumerate(smooth):
        before = weight * value + (1.0 - weight) * before
        smooth[place] = before
    return smooth


def ewma(
    values: ArrayLike,
    *,
    target: float,
    sigma: float,
    weight: float = 0.2,
    width: float = USUAL_WIDTH,
    constant_limits: bool = False,
    shewhart_limit: float | None = None,
    sigma_from: str = "given",
    degrees_of_freedom: float = math.inf,
) -> Chart:
    r"""
    Chart of exponentially weighted means.

    With :math:`z_0` the target, limits of :math:`z_i` lie at

    .. math:: \mu_0 \pm L \sigma \sqrt{\frac{\lambda}{2 - \lambda} [1 - (1 - \lambda)^{2i}]},

    or, as constant limits, at the same without the bracket. A missing value leaves the mean where
    it was and does not count in *i*.

    Parameters
    ----------
    values : array_like, shape (n_points,)
        In time order, in one unit; NaN where not logged.
    target, sigma : float
        Mean and standard deviation of a stable value, in the unit of *values*.
    weight : float, default 0.2
        Of the newest value, above 0 and at most 1.
    width : float, default 3
        *L*, in standard deviations of the weighted mean.
    constant_limits : bool, default False
        Use the limits that the exact ones grow into.
    shewhart_limit : float, optional
        Limit for single values, in *sigma* from the target: the combined Shewhart-EWMA chart, on
        which a value beyond it signals too ("value_beyond_limit").
    sigma_from : str
        How *sigma* was found, as a phrase.
    degrees_of_freedom : float
        Of *sigma*; infinite where it is known.

    Returns
    -------
    Chart
        Values are the weighted means; `limits.sigma` is that of a single value.

    Raises
    ------
    ValueError
        Values, sigma, weight, width or degrees of freedom are out of range.

    References
    ----------
    S. W. Roberts (1959), Control chart tests based on geometric moving averages, Technometrics 1,
    239-250. J. M. Lucas and M. S. Saccucci (1990), Exponentially weighted moving average control
    schemes: properties and enhancements, Technometrics 32, 1-12.

    Examples
    --------
    >>> chart = ewma([52.0, 47.0, 53.0], target=50.0, sigma=2.0539, weight=0.3,
    ...              constant_limits=True)
    >>> chart.values.round(2).tolist(), float(chart.limits.upper[0].round(4))
    ([50.6, 49.52, 50.56], 52.5884)
    """
    shown = one_row(values)
    real("target", target)
    real("sigma", sigma, above=0.0)
    logged = ~np.isnan(shown)
    alive = ewma_survival(
        int(logged.sum()),
        weight,
        width,
        constant_limits=constant_limits,
        shewhart_limit=shewhart_limit,
    )
    means = np.full(shown.shape, np.nan)
    means[logged] = weighted_means(shown[logged], weight, target)
    spread = sigma * math.sqrt(weight / (2.0 - weight))
    counted = np.maximum(np.cumsum(logged), 1)
    growth = np.ones(shown.shape) if constant_limits else 1.0 - (1.0 - weight) ** (2 * counted)
    error = spread * np.sqrt(growth)
    singles = single_signals((shown - target) / sigma, shewhart_limit)
    signals = find_signals(USUAL_WIDTH * (means - target) / (width * error), ("beyond_limit",))
    return Chart(
        kind="EWMA",
        values=frozen(means),
        limits=Limits(
            centre=float(target),
            lower=frozen(target - width * error),
            upper=frozen(target + width * error),
            sigma=float(sigma),
            sigma_from=sigma_from,
            degrees_of_freedom=degrees("degrees_of_freedom", degrees_of_freedom),
        ),
        signals=tuple(sorted((*signals, *singles), key=lambda signal: (signal.at, signal.pattern))),
        false_alarm=float(1.0 - alive[-1]) if len(alive) else 0.0,
    )
