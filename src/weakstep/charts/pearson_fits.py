"""Performance of parameters of any shape by percentiles of a fitted Pearson curve (Clements)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.capability_indices import check_tolerance
from weakstep.charts.checks import chance, one_row, whole_number
from weakstep.charts.pearson_curves import PearsonCurve, pearson_curve
from weakstep.charts.percentiles import PercentileIndices, percentile_indices
from weakstep.errors import NotEnoughError
from weakstep.interval import Interval

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

_LEAST = 50  # values; the kurtosis of fewer says next to nothing
_LEAST_RESAMPLES, _MOST_RESAMPLES = 99, 100_000
_FEWEST_RESAMPLED = 0.9  # share of the resamples that must have a curve
_TAIL = 0.00135  # of a normal distribution beyond 3 sigma on one side


@dataclass(frozen=True, eq=False)
class PearsonPerformance:
    """
    Performance against a tolerance by a fitted Pearson curve.

    Attributes
    ----------
    curve : PearsonCurve
        Of the mean, standard deviation, skewness and kurtosis of the values.
    quantiles : tuple of float
        Its 0.135 %, 50 % and 99.865 % points, in the unit.
    pp : Interval or None
        None where a limit is missing.
    ppk : Interval
    """

    curve: PearsonCurve
    quantiles: tuple[float, float, float]
    pp: Interval | None
    ppk: Interval


def pearson_performance(
    values: ArrayLike,
    *,
    lower: float | None = None,
    upper: float | None = None,
    level: float = 0.95,
    resamples: int = 499,
    seed: int = 0,
) -> PearsonPerformance:
    r"""
    Pp and Ppk by the percentiles of the Pearson curve that has the moments of the values.

    Indices are those of `percentile_indices`; their intervals go between quantiles of the indices
    of resampled values (percentile bootstrap). Skewness and kurtosis are
    :math:`m_3 / m_2^{3/2}` and :math:`m_4 / m_2^2 - 3` with :math:`m_k` the mean *k*-th power of
    the distance from the mean. Such moments are unsure, and small samples show too little of the
    tails: where values suit the plain scale, logarithms or a power, `judge_tolerance` says more.

    The intervals hold less than they promise. Of 400 of 95 % each, 82 to 96 % held the true Ppk
    with 50 values, 85 to 94 % with 100 and 89 to 94 % with 200 where the values were of Pearson's
    system (normal, gamma, beta), and about 70 % where they were lognormal and no curve is theirs
    (standard errors up to 2.3 %; ``tests/benchmark/pearson_coverage.py 400``).

    Parameters
    ----------
    values : array_like, shape (n_values,)
        In one unit, of a stable parameter; NaN is left out.
    lower, upper : float, optional
        Limits of the tolerance; at least one.
    level : float, default 0.95
    resamples : int, default 499
        From 99 to 100000.
    seed : int, default 0
        Of the resampling.

    Returns
    -------
    PearsonPerformance

    Raises
    ------
    ValueError
        The tolerance is missing or upside down, or an argument is out of range.
    NotEnoughError
        Fewer than 50 values, or too few different ones to have a kurtosis.

    References
    ----------
    J. A. Clements (1989), Process capability calculations for non-normal distributions, Quality
    Progress 22(9), 95-100. ISO 22514-2. B. Efron and R. J. Tibshirani (1993), An Introduction to
    the Bootstrap, Chapman and Hall, chapter 13.

    Examples
    --------
    >>> found = pearson_performance(np.linspace(0.0, 1.0, 201), lower=-0.1, upper=1.1)
    >>> found.curve.kind, [round(quantile, 3) for quantile in found.quantiles]
    ('I', [-0.002, 0.5, 1.002])
    >>> round(found.ppk.estimate, 2)
    1.19
    """
    check_tolerance(lower, upper)
    half = (1.0 - chance("level", level)) / 2.0
    count = whole_number("resamples", resamples, _LEAST_RESAMPLES)
    if count > _MOST_RESAMPLES:
        msg = f"resamples must be at most {_MOST_RESAMPLES}, got {resamples}"
        raise ValueError(msg)
    rng = np.random.default_rng(whole_number("seed", seed, 0))
    row = one_row(values)
    known = row[~np.isnan(row)]
    curve = _fitted(known) if len(known) >= _LEAST else None
    if curve is None:
        msg = (
            f"A Pearson curve needs at least {_LEAST} values that differ in more than two ways; "
            f"{len(known)} logged."
        )
        raise NotEnoughError(msg)
    best = _indices(curve, lower, upper)
    again = (_fitted(known[rng.integers(0, len(known), len(known))]) for _ in range(count))
    drawn = [_indices(one, lower, upper) for one in again if one is not None]
    if len(drawn) < _FEWEST_RESAMPLED * count:
        msg = "The values take too few different numbers for a Pearson curve to be fitted again."
        raise NotEnoughError(msg)

    def interval(estimate: float, found: list[float]) -> Interval:
        low, high = np.quantile(found, [half, 1.0 - half])
        return Interval(estimate, min(float(low), estimate), max(float(high), estimate), level)

    both = [one.pp for one in drawn if one.pp is not None]
    return PearsonPerformance(
        curve=curve,
        quantiles=_quantiles(curve),
        pp=None if best.pp is None else interval(best.pp, both),
        ppk=interval(best.ppk, [one.ppk for one in drawn]),
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
        curve = pearson_curve(mean, sd, skewness, kurtosis)
    except ValueError:  # values of two kinds only, or one so far out that no curve has its moments
        return None
    low, middle, high = _quantiles(curve)
    return curve if low < middle < high else None  # else nearly of two kinds only


def _quantiles(curve: PearsonCurve) -> tuple[float, float, float]:
    low, middle, high = (curve.quantile(level) for level in (_TAIL, 0.5, 1.0 - _TAIL))
    return low, middle, high


def _indices(curve: PearsonCurve, lower: float | None, upper: float | None) -> PercentileIndices:
    return percentile_indices(_quantiles(curve), lower=lower, upper=upper)
