"""Values made comparable from the third on, without a baseline: for self-starting charts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.cusum_charts import Cusum, cusum
from weakstep.charts.row_checks import one_row

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

_FURTHEST = 8.0  # normal scores beyond are told as this; chances there are below 1e-15


def self_starting_scores(values: ArrayLike) -> NDArray[np.float64]:
    r"""
    Turn each value into a normal score by those before it.

    With mean and standard deviation of the *n* - 1 values before,
    :math:`U_n = \Phi^{-1}(F_{t, n-2}(\sqrt{(n-1)/n}\,(x_n - \bar x_{n-1}) / s_{n-1}))`: independent
    standard normal, exactly, while the values are independent normal of one mean and spread.

    Parameters
    ----------
    values : array_like, shape (n_points,)
        In time order; NaN where not logged (passed over).

    Returns
    -------
    array, shape (n_points,)
        NaN for the first two logged values and for gaps; 0 while all before are equal and so is
        the value, and the furthest score, 8, if the value then differs.

    Raises
    ------
    ValueError
        *values* is not one row of finite numbers or NaN.

    References
    ----------
    D. M. Hawkins (1987), Self-starting CUSUM charts for location and scale, The Statistician 36,
    299-315.

    Examples
    --------
    >>> self_starting_scores([1.0, 3.0, 2.0, 4.0]).round(3).tolist()
    [nan, nan, 0.0, 1.212]
    """
    from scipy.special import ndtri, stdtr

    row = one_row(values)
    logged = np.flatnonzero(~np.isnan(row))
    scores = np.full(row.shape, np.nan)
    if len(logged) < 3:
        return scores
    known = row[logged] - row[logged[0]]
    count = np.arange(2.0, len(known))
    total, squares = np.cumsum(known)[1:-1], np.cumsum(known**2)[1:-1]
    mean = total / count
    spread = np.sqrt(np.maximum(squares - count * mean**2, 0.0) / (count - 1.0))
    off = known[2:] - mean
    flat = spread <= 1e-12 * np.maximum(np.abs(mean), np.abs(known[2:]))
    ratio = np.where(flat, 0.0, off / np.where(flat, 1.0, spread))
    # The lower tail keeps its digits, so both sides go through it.
    tail = ndtri(stdtr(count - 1.0, -np.abs(ratio) * np.sqrt(count / (count + 1.0))))
    found = np.where(ratio == 0.0, 0.0, -np.sign(ratio) * np.maximum(tail, -_FURTHEST))
    far = flat & (np.abs(off) > 1e-12 * np.maximum(np.abs(mean), np.abs(known[2:])))
    scores[logged[2:]] = np.where(far, np.sign(off) * _FURTHEST, found)
    return scores


def self_starting_cusum(
    values: ArrayLike, *, allowance: float = 0.5, decision: float = 5.0
) -> Cusum:
    """
    Tabular CUSUM of self-starting scores: no baseline is needed, and run lengths hold exactly.

    A change that is not caught soon is taken in by the running mean, so the chart should be acted
    on at once.

    Parameters
    ----------
    values : array_like, shape (n_points,)
        In time order; NaN where not logged.
    allowance, decision : float
        In sigmas, as for `weakstep.charts.cusum_charts.cusum`.

    Returns
    -------
    Cusum
        Sums in sigmas; NaN for the first two values.

    Raises
    ------
    ValueError
        *values* is not one row of finite numbers or NaN, or an argument is out of range.

    References
    ----------
    As for `self_starting_scores`.

    Examples
    --------
    >>> level = np.r_[np.tile([0.0, 1.0], 10), np.tile([3.0, 4.0], 5)]
    >>> self_starting_cusum(level).up.signals[0].at
    21
    """
    return cusum(
        self_starting_scores(values),
        target=0.0,
        sigma=1.0,
        allowance=allowance,
        decision=decision,
        sigma_from="values before each",
    )
