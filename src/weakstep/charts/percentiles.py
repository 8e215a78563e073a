"""Performance of skewed parameters against a tolerance, by quantiles instead of sigmas."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.capability_indices import check_tolerance
from weakstep.charts.checks import numbers, real
from weakstep.charts.row_checks import one_row
from weakstep.errors import NotEnoughError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

_MOST_POWER = 8.0  # as far as `box_cox` looks
_TAIL = 0.00135  # of a normal distribution beyond 3 sigma on one side (ISO 22514-2)


@dataclass(frozen=True)
class PercentileIndices:
    """
    Performance of a skewed parameter, from quantiles; None where a limit is missing.

    Attributes
    ----------
    pp, pp_lower, pp_upper : float or None
        Against both limits, against the lower and against the upper.
    """

    pp: float | None
    pp_lower: float | None
    pp_upper: float | None

    @property
    def ppk(self) -> float:
        """Return the smaller of the two one-sided indices."""
        return min(index for index in (self.pp_lower, self.pp_upper) if index is not None)


def percentile_indices(
    quantiles: tuple[float, float, float],
    *,
    lower: float | None = None,
    upper: float | None = None,
) -> PercentileIndices:
    r"""
    Compute performance indices by quantiles, for any shape of distribution.

    .. math::
        P_p = \frac{U - L}{X_{.99865} - X_{.00135}}, \quad
        P_{pU} = \frac{U - X_{.5}}{X_{.99865} - X_{.5}}, \quad
        P_{pL} = \frac{X_{.5} - L}{X_{.5} - X_{.00135}}.

    Parameters
    ----------
    quantiles : tuple of float
        The 0.135 %, 50 % and 99.865 % points, in the unit: see `normal_scale_quantiles`.
    lower, upper : float, optional
        Limits of the tolerance.

    Returns
    -------
    PercentileIndices

    Raises
    ------
    ValueError
        The tolerance is missing or upside down, or *quantiles* are not three rising numbers.

    References
    ----------
    ISO 22514-2. J. A. Clements (1989), Process capability calculations for non-normal
    distributions, Quality Progress 22(9), 95-100.

    Examples
    --------
    >>> found = percentile_indices((-3.0, 0.0, 3.0), lower=-4.0, upper=5.0)
    >>> found.pp, round(found.ppk, 3)
    (1.5, 1.333)
    """
    check_tolerance(lower, upper)
    row = numbers("quantiles", quantiles)
    if row.shape != (3,) or not np.isfinite(row).all():
        msg = f"quantiles must be three finite numbers, got {quantiles}"
        raise ValueError(msg)
    low, middle, high = row.tolist()
    if not low < middle < high:
        msg = f"quantiles must rise, got {quantiles}"
        raise ValueError(msg)
    return PercentileIndices(
        pp=None if lower is None or upper is None else (upper - lower) / (high - low),
        pp_lower=None if lower is None else (middle - lower) / (middle - low),
        pp_upper=None if upper is None else (upper - middle) / (high - middle),
    )


def normal_scale_quantiles(values: ArrayLike, power: float) -> tuple[float, float, float]:
    r"""
    Quantiles at 0.135, 50 and 99.865 % of values that are normal on a power scale.

    Parameters
    ----------
    values : array_like, shape (n_values,)
        NaN is left out; above 0 unless *power* is 1.
    power : float
        0 for logarithms; see `weakstep.charts.normality.box_cox`.

    Returns
    -------
    tuple of float
        In the unit. Where the power scale ends before 3 sigma, its end.

    Raises
    ------
    ValueError
        *values* is not one row of numbers, one of them is not above 0 on a power scale, or *power*
        lies beyond 8.
    NotEnoughError
        Fewer than 2 values.

    Examples
    --------
    >>> [round(q, 3) for q in normal_scale_quantiles([1.0, np.e**2], 0.0)]
    [0.039, 2.718, 189.163]
    """
    from scipy.special import ndtri

    known = one_row(values)
    known = known[~np.isnan(known)]
    real("power", power, least=-_MOST_POWER, most=_MOST_POWER)
    if len(known) < 2:
        msg = f"Quantiles of a distribution need at least 2 values; {len(known)} logged."
        raise NotEnoughError(msg)
    if power != 1.0 and known.min() <= 0.0:
        msg = f"values must be above 0 for a power scale, found {known.min():g}"
        raise ValueError(msg)
    scaled = np.log(known) if power == 0.0 else known**power
    reach = float(ndtri(1.0 - _TAIL)) * float(scaled.std(ddof=1))
    ends = float(scaled.mean()) + np.array([-reach, 0.0, reach])
    shown = np.exp(ends) if power == 0.0 else np.maximum(ends, 0.0) ** (1.0 / power)
    shown = ends if power == 1.0 else shown
    low, middle, high = sorted(float(end) for end in shown)
    return low, middle, high
