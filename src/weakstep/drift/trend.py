"""Classical tests of one series: monotonic trend, its slope, one change of level."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import chance, numbers, one_row
from weakstep.errors import NotEnoughError
from weakstep.interval import Interval

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]


@dataclass(frozen=True)
class MonotonicTrend:
    """
    Mann and Kendall's test.

    Attributes
    ----------
    statistic : int
        Pairs that rise less pairs that fall.
    variance : float
        Of the statistic without a trend, ties allowed for.
    z : float
        With a continuity correction.
    p : float
        Two-sided.
    """

    statistic: int
    variance: float
    z: float
    p: float


def mann_kendall(values: ArrayLike) -> MonotonicTrend:
    r"""
    Test for a monotonic trend: :math:`S = \sum_{i<j} \mathrm{sign}(x_j - x_i)`.

    The variance is :math:`[n(n-1)(2n+5) - \sum t(t-1)(2t+5)] / 18` over groups of *t* ties. Values
    are taken as independent in time.

    Parameters
    ----------
    values : array_like, shape (n_values,)
        In time order; NaN is passed over.

    Returns
    -------
    MonotonicTrend

    Raises
    ------
    ValueError
        *values* is not one row of finite numbers or NaN.
    NotEnoughError
        Fewer than 3 values, or all of them equal.

    References
    ----------
    H. B. Mann (1945), Nonparametric tests against trend, Econometrica 13, 245-259. M. G. Kendall
    (1975), Rank Correlation Methods, Griffin.

    Examples
    --------
    >>> mann_kendall([1.0, 2.0, 4.0, 3.0]).statistic
    4
    """
    known = _known(one_row(values))
    pairs = np.sign(known[None, :] - known[:, None])
    statistic = int(np.triu(pairs, 1).sum())
    variance = _kendall_variance(known, np.arange(len(known)))
    z = (statistic - np.sign(statistic)) / math.sqrt(variance)
    return MonotonicTrend(statistic, variance, float(z), math.erfc(abs(float(z)) / math.sqrt(2.0)))


def theil_sen(values: ArrayLike, at: ArrayLike | None = None, level: float = 0.95) -> Interval:
    r"""
    Median slope of all pairs, with the interval of Sen.

    Among *N* slopes between values of different times the interval goes from that of rank
    :math:`(N - z \sqrt{V}) / 2` to that after rank :math:`(N + z \sqrt{V}) / 2`. *V* is the
    variance of `mann_kendall`, or where values share a time that of Kendall's statistic with ties
    in both: with :math:`v(m) = m (m - 1) (2 m + 5)` and *t*, *u* the sizes of groups of equal
    values and of equal times,

    .. math::
        V = \frac{v(n) - \sum v(t) - \sum v(u)}{18}
        + \frac{\sum t (t-1) (t-2) \sum u (u-1) (u-2)}{9 n (n-1) (n-2)}
        + \frac{\sum t (t-1) \sum u (u-1)}{2 n (n-1)}.

    Parameters
    ----------
    values : array_like, shape (n_values,)
        NaN is passed over.
    at : array_like, shape (n_values,), optional
        When, in any unit; default 0, 1, 2 ...
    level : float, default 0.95

    Returns
    -------
    Interval
        Slope, in the unit of *values* per unit of *at*.

    Raises
    ------
    ValueError
        *values* is not one row of numbers, *at* has another length or a value without a time, or
        *level* does not lie between 0 and 1.
    NotEnoughError
        Fewer than 3 values, all equal, or all at one time.

    References
    ----------
    P. K. Sen (1968), Estimates of the regression coefficient based on Kendall's tau, Journal of
    the American Statistical Association 63, 1379-1389. M. G. Kendall (1975), Rank Correlation
    Methods, Griffin (ties in both).

    Examples
    --------
    >>> round(theil_sen([1.26, 1.27, 1.12, 1.16, 1.03]).estimate, 5)
    -0.05625
    """
    from scipy.special import ndtri

    chance("level", level)
    row = one_row(values)
    time = np.arange(len(row)) * 1.0 if at is None else numbers("at", at)
    if time.shape != row.shape:
        msg = f"at must give a time for each of {len(row)} values, got shape {time.shape}"
        raise ValueError(msg)
    logged = ~np.isnan(row)
    known, when = _known(row), time[logged]
    if not np.isfinite(when).all():
        msg = "at must hold a finite time for each value that is logged"
        raise ValueError(msg)
    first, second = np.triu_indices(len(known), 1)
    apart = when[second] - when[first]
    if not apart.any():
        msg = "All values are at one time, so there is no slope."
        raise NotEnoughError(msg)
    slopes = np.sort((known[second] - known[first])[apart != 0.0] / apart[apart != 0.0])
    reach = float(ndtri(0.5 + level / 2.0)) * math.sqrt(_kendall_variance(known, when))
    count = len(slopes)
    lower = max(round((count - reach) / 2.0) - 1, 0)
    upper = min(round((count + reach) / 2.0), count - 1)
    return Interval(float(np.median(slopes)), float(slopes[lower]), float(slopes[upper]), level)


@dataclass(frozen=True)
class LevelChange:
    """
    Pettitt's test for one change of level.

    Attributes
    ----------
    statistic : int
        Largest :math:`|U_t|`.
    first_changed : int
        Place (from 0, among all values) of the first changed value.
    p : float
        Approximate, two-sided.
    """

    statistic: int
    first_changed: int
    p: float


def pettitt(values: ArrayLike) -> LevelChange:
    r"""
    Test for one change of level.

    :math:`U_t = \sum_{i \le t} \sum_{j > t} \mathrm{sign}(x_j - x_i)`; with *K* the largest
    :math:`|U_t|`, :math:`p \approx 2 \exp(-6 K^2 / (n^3 + n^2))`.

    Parameters
    ----------
    values : array_like, shape (n_values,)
        In time order; NaN is passed over.

    Returns
    -------
    LevelChange

    Raises
    ------
    ValueError
        *values* is not one row of finite numbers or NaN.
    NotEnoughError
        Fewer than 3 values, or all of them equal.

    References
    ----------
    A. N. Pettitt (1979), A non-parametric approach to the change-point problem, Applied Statistics
    28, 126-135.

    Examples
    --------
    >>> found = pettitt([1.0, 2.0, 1.5, 7.0, 8.0, 7.5])
    >>> found.statistic, found.first_changed
    (9, 3)
    """
    row = one_row(values)
    known = _known(row)
    pairs = np.sign(known[None, :] - known[:, None])
    sums = np.cumsum(pairs.sum(axis=1))[:-1]  # pairs inside the first t values cancel
    place = int(np.abs(sums).argmax())
    statistic, count = int(abs(sums[place])), len(known)
    p = min(1.0, 2.0 * math.exp(-6.0 * statistic**2 / (count**3 + count**2)))
    return LevelChange(statistic, int(np.flatnonzero(~np.isnan(row))[place + 1]), p)


def _kendall_variance(values: Floats, times: NDArray[np.generic]) -> float:
    """Variance of Kendall's statistic without a trend, groups of ties in both allowed for."""
    n = float(len(values))
    tied = [np.unique(row, return_counts=True)[1].astype(float) for row in (values, times)]
    pairs = [float((m * (m - 1)).sum()) for m in tied]
    triples = [float((m * (m - 1) * (m - 2)).sum()) for m in tied]
    plain = n * (n - 1) * (2 * n + 5) - sum(float((m * (m - 1) * (2 * m + 5)).sum()) for m in tied)
    both = triples[0] * triples[1] / (9.0 * n * (n - 1) * (n - 2))
    return plain / 18.0 + both + pairs[0] * pairs[1] / (2.0 * n * (n - 1))


def _known(row: Floats) -> Floats:
    """Return the logged values, once there are enough of them."""
    known: Floats = row[~np.isnan(row)]
    if len(known) < 3 or np.ptp(known) == 0.0:
        msg = f"A trend needs at least 3 values that differ; {len(known)} logged."
        raise NotEnoughError(msg)
    return known
