"""Performance of parameters of any shape by percentiles of a fitted Pearson curve (Clements)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.capability_indices import check_tolerance
from weakstep.charts.pearson_curves import PearsonCurve, pearson_curve
from weakstep.charts.percentiles import PercentileIndices, percentile_indices
from weakstep.charts.row_checks import one_row
from weakstep.errors import NotEnoughError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

_LEAST = 50  # values; the kurtosis of fewer says next to nothing
_TAIL = 0.00135  # of a normal distribution beyond 3 sigma on one side


@dataclass(frozen=True)
class PearsonPerformance:
    """
    Performance against a tolerance by a fitted Pearson curve.

    Attributes
    ----------
    curve : PearsonCurve
        Of the mean, standard deviation, skewness and kurtosis of the values.
    quantiles : tuple of float
        Its 0.135 %, 50 % and 99.865 % points, in the unit.
    indices : PercentileIndices
        Pp and Ppk by these points; no unit.
    """

    curve: PearsonCurve
    quantiles: tuple[float, float, float]
    indices: PercentileIndices


def pearson_performance(
    values: ArrayLike, *, lower: float | None = None, upper: float | None = None
) -> PearsonPerformance:
    r"""
    Pp and Ppk by the percentiles of the Pearson curve that has the moments of the values.

    Indices are those of `percentile_indices`. Skewness and kurtosis are :math:`m_3 / m_2^{3/2}`
    and :math:`m_4 / m_2^2 - 3` with :math:`m_k` the mean *k*-th power of the distance from the
    mean.

    There is no interval, as none that was tried kept its promise: those by resampling, meant to
    hold the true Ppk in 95 % of samples, held it in about 70 % where the values were lognormal.
    Small samples show too little of a long tail. In 2000 samples of 100 values each, Ppk was off
    the true one on average by -0.8 % for a normal law (in nine of ten samples by -22 to 26 %), by
    -3.4 % (-17 to 12 %) for a beta, 5.9 % (-16 to 32 %) for a gamma and 22 % (-8 to 56 %) for a
    lognormal one (``tests/benchmark/pearson_errors.py 2000``; standard errors of the averages up to
    0.4 %). Where values suit the plain scale, logarithms or a power, `judge_tolerance` says more,
    and has an interval.

    Parameters
    ----------
    values : array_like, shape (n_values,)
        In one unit, of a stable parameter; NaN is left out.
    lower, upper : float, optional
        Limits of the tolerance; at least one.

    Returns
    -------
    PearsonPerformance

    Raises
    ------
    ValueError
        The tolerance is missing or upside down, or *values* are not one row of numbers.
    NotEnoughError
        Fewer than 50 values, too few different ones to have a kurtosis, or one so far out that no
        curve has their moments.

    References
    ----------
    J. A. Clements (1989), Process capability calculations for non-normal distributions, Quality
    Progress 22(9), 95-100. ISO 22514-2.

    Examples
    --------
    >>> found = pearson_performance(np.linspace(0.0, 1.0, 201), lower=-0.1, upper=1.1)
    >>> found.curve.kind, [round(quantile, 3) for quantile in found.quantiles]
    ('I', [-0.002, 0.5, 1.002])
    >>> round(found.indices.ppk, 2)
    1.19
    """
    check_tolerance(lower, upper)
    row = one_row(values)
    known = row[~np.isnan(row)]
    if len(known) < _LEAST:
        msg = f"A Pearson curve needs at least {_LEAST} values; {len(known)} logged."
        raise NotEnoughError(msg)
    curve = _fitted(known)
    quantiles = None if curve is None else _quantiles(curve)
    # Quantiles of a curve of nearly two values only do not rise.
    if curve is None or quantiles is None or not quantiles[0] < quantiles[1] < quantiles[2]:
        msg = (
            "No Pearson curve fits: the values take hardly more than two different numbers, or one "
            "lies extremely far out. Look at them in time order first."
        )
        raise NotEnoughError(msg)
    return PearsonPerformance(
        curve, quantiles, percentile_indices(quantiles, lower=lower, upper=upper)
    )


def _fitted(known: Floats) -> PearsonCurve | None:
    """Curve with the moments of the values; None where there is none."""
    mean, largest = float(known.mean()), float(np.abs(known - known.mean()).max())
    if np.ptp(known) == 0.0:
        return None
    off = (known - mean) / largest  # so that powers keep their digits
    square = float(np.mean(off**2))
    skewness = float(np.mean(off**3)) / square**1.5
    kurtosis = float(np.mean(off**4)) / square**2 - 3.0
    sd = largest * (square * len(known) / (len(known) - 1.0)) ** 0.5
    try:
        return pearson_curve(mean, sd, skewness, kurtosis)
    except ValueError:  # values of two kinds only, or one so far out that no curve has its moments
        return None


def _quantiles(curve: PearsonCurve) -> tuple[float, float, float]:
    low, middle, high = (curve.quantile(level) for level in (_TAIL, 0.5, 1.0 - _TAIL))
    return low, middle, high
