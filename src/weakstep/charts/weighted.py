"""Charts that remember: exponentially weighted means and tabular cumulative sums."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import one_row
from weakstep.charts.cusum_run_lengths import check_cusum, cusum_survival
from weakstep.charts.ewma_run_lengths import ewma_survival
from weakstep.charts.frozen import constant_line, frozen
from weakstep.charts.model import Chart, Limits, Signal
from weakstep.charts.patterns import find_signals

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

_WIDTH = 3.0  # sigmas from the centre line to a limit


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
    width: float = _WIDTH,
    constant_limits: bool = False,
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
    sigma_from : str
        How *sigma* was found, as a phrase.
    degrees_of_freedom : float
        Of *sigma*.

    Returns
    -------
    Chart
        Values are the weighted means; `limits.sigma` is that of a single value.

    Raises
    ------
    ValueError
        Values, sigma, weight or width are out of range.

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
    _positive("sigma", sigma)
    _positive("width", width)
    if not 0.0 < weight <= 1.0:
        msg = f"weight must be above 0 and at most 1, got {weight}"
        raise ValueError(msg)
    logged = ~np.isnan(shown)
    means = np.full(shown.shape, np.nan)
    means[logged] = weighted_means(shown[logged], weight, target)
    spread = sigma * math.sqrt(weight / (2.0 - weight))
    counted = np.maximum(np.cumsum(logged), 1)
    growth = np.ones(shown.shape) if constant_limits else 1.0 - (1.0 - weight) ** (2 * counted)
    error = spread * np.sqrt(growth)
    alive = ewma_survival(int(logged.sum()), weight, width, constant_limits=constant_limits)
    return Chart(
        kind="EWMA",
        values=frozen(means),
        limits=Limits(
            centre=float(target),
            lower=frozen(target - width * error),
            upper=frozen(target + width * error),
            sigma=float(sigma),
            sigma_from=sigma_from,
            degrees_of_freedom=degrees_of_freedom,
        ),
        signals=find_signals(_WIDTH * (means - target) / (width * error), ("beyond_limit",)),
        false_alarm=float(1.0 - alive[-1]) if len(alive) else 0.0,
    )


@dataclass(frozen=True, eq=False)
class Cusum:
    """
    Tabular cumulative sums upwards and downwards.

    Attributes
    ----------
    up, down : Chart
        Sums in the unit of the values, each from 0 to its limit; both count away from the target,
        so `down` grows when values are low.
    up_since, down_since : array of int, shape (n_points,)
        Logged points in a row, up to each point, for which the sum was above 0: the change began
        that many points ago (0 where the sum is 0).
    false_alarm : float
        Chance that a stable log of this length signals on either side, exactly (that of `up` or
        `down` is for one side alone).
    """

    up: Chart
    down: Chart
    up_since: NDArray[np.intp]
    down_since: NDArray[np.intp]
    false_alarm: float


def cusum(
    values: ArrayLike,
    *,
    target: float,
    sigma: float,
    allowance: float = 0.5,
    decision: float = 5.0,
    head_start: float = 0.0,
    sigma_from: str = "given",
    degrees_of_freedom: float = math.inf,
) -> Cusum:
    r"""
    Tabular CUSUM, upwards and downwards.

    .. math::
        C^+_i = \max(0, C^+_{i-1} + x_i - \mu_0 - k \sigma), \quad
        C^-_i = \max(0, C^-_{i-1} - x_i + \mu_0 - k \sigma),

    with a signal above :math:`h \sigma`. A missing value leaves the sums where they were.

    Parameters
    ----------
    values : array_like, shape (n_points,)
        In time order, in one unit; NaN where not logged.
    target, sigma : float
        Mean and standard deviation of a stable value, in the unit of *values*.
    allowance, decision : float, default 0.5 and 5
        *k* and *h*, in sigmas. Half the shift to be found is the best allowance.
    head_start : float, default 0
        Where both sums start, in sigmas; half of *decision* is the fast initial response of Lucas
        and Crosier. At most *decision* / 2 + *allowance*.
    sigma_from : str
        How *sigma* was found, as a phrase.
    degrees_of_freedom : float
        Of *sigma*.

    Returns
    -------
    Cusum

    Raises
    ------
    ValueError
        Values, sigma, allowance, decision or head start are out of range.

    References
    ----------
    E. S. Page (1954), Continuous inspection schemes, Biometrika 41, 100-115. J. M. Lucas and
    R. B. Crosier (1982), Fast initial response for CUSUM quality-control schemes, Technometrics
    24, 199-205.

    Examples
    --------
    >>> sums = cusum([9.45, 7.99, 9.29, 11.66], target=10.0, sigma=1.0)
    >>> sums.up.values.round(2).tolist(), sums.down.values.round(2).tolist()
    ([0.0, 0.0, 0.0, 1.16], [0.05, 1.56, 1.77, 0.0])
    """
    shown = one_row(values)
    _positive("sigma", sigma)
    _positive("decision", decision)
    check_cusum(allowance, decision, head_start, two_sided=True)
    limits = Limits(
        centre=0.0,
        lower=constant_line(0.0, shown),
        upper=constant_line(decision * sigma, shown),
        sigma=float(sigma),
        sigma_from=sigma_from,
        degrees_of_freedom=degrees_of_freedom,
    )
    off = (shown - target) / sigma
    scheme = (allowance, decision, head_start)
    up, up_since = _one_side(off, scheme, limits, "CUSUM up")
    down, down_since = _one_side(-off, scheme, limits, "CUSUM down")
    count = int((~np.isnan(shown)).sum())
    alive = cusum_survival(count, allowance, decision, head_start=head_start, two_sided=True)
    either = float(1.0 - alive[-1]) if count else 0.0
    return Cusum(up, down, up_since, down_since, either)


def _one_side(
    off: Floats, scheme: tuple[float, float, float], limits: Limits, kind: str
) -> tuple[Chart, NDArray[np.intp]]:
    """Upward sums of *off* (in sigmas), and for how many points each has been above 0."""
    allowance, decision, head_start = scheme
    sums = np.full(off.shape, np.nan)
    since = np.zeros(off.shape, dtype=np.intp)
    logged = np.flatnonzero(~np.isnan(off))
    total, count = head_start, 0
    for place in logged:
        total = max(0.0, total + float(off[place]) - allowance)
        count = count + 1 if total > 0.0 else 0
        sums[place], since[place] = total, count
    beyond = tuple(
        Signal("beyond_limit", "beyond a limit", (int(place),), int(place))
        for place in logged[sums[logged] > decision + 1e-9]
    )
    alive = cusum_survival(len(logged), allowance, decision, head_start=head_start)
    since.flags.writeable = False
    chart = Chart(
        kind=kind,
        values=frozen(sums * limits.sigma),
        limits=limits,
        signals=beyond,
        false_alarm=float(1.0 - alive[-1]) if len(alive) else 0.0,
    )
    return chart, since


def _positive(name: str, value: float) -> None:
    if not (value > 0.0 and math.isfinite(value)):
        msg = f"{name} must be above 0 and finite, got {value}"
        raise ValueError(msg)
