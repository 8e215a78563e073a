"""Whether values suit a chart of single values: skew, rounding, likeness of neighbours."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

_SKEW_WORTH_TELLING = 1.0
_SKEW_WORTH_A_LOG = 0.5
_FEWEST_FOR_LIMITS = 20
_FEW_DISTINCT = 6
_LIKENESS_WORTH_TELLING = 0.25


def skewness(values: ArrayLike) -> float:
    r"""
    Moment skewness :math:`m_3 / m_2^{3/2}` of the logged values; 0 when they are all equal.

    Parameters
    ----------
    values : array_like, shape (n_values,)
        NaN is left out.

    Returns
    -------
    float
        No unit; positive when the long tail is to the right.

    Examples
    --------
    >>> round(skewness([1, 1, 1, 5]), 4), skewness([2, 2])
    (1.1547, 0.0)
    """
    logged = np.asarray(values, dtype=float)
    logged = logged[~np.isnan(logged)]
    if len(logged) == 0 or np.ptp(logged) == 0.0:
        return 0.0
    off = (logged - logged.mean()) / np.ptp(logged)
    return float(np.mean(off**3) / np.mean(off**2) ** 1.5)


def suits_log_scale(values: ArrayLike) -> bool:
    """
    Whether values are all positive, right-skewed (above 0.5) and less skewed as logarithms.

    Parameters
    ----------
    values : array_like, shape (n_values,)
        NaN is left out.

    Examples
    --------
    >>> suits_log_scale([1, 1, 2, 3, 9]), suits_log_scale([1, 2, 3]), suits_log_scale([-1, 0, 9])
    (True, False, False)
    """
    logged = np.asarray(values, dtype=float)
    logged = logged[~np.isnan(logged)]
    if len(logged) == 0 or logged.min() <= 0.0:
        return False
    skew = skewness(logged)
    return skew > _SKEW_WORTH_A_LOG and abs(skewness(np.log(logged))) < skew


def lag_one_correlation(values: ArrayLike) -> float:
    r"""
    Correlation of neighbours :math:`\sum (x_t - \bar x)(x_{t-1} - \bar x) / \sum (x_t - \bar x)^2`.

    Parameters
    ----------
    values : array_like, shape (n_values,)
        In time order; NaN is passed over. 0 when all are equal.

    Returns
    -------
    float
        Between -1 and 1.

    Examples
    --------
    >>> round(lag_one_correlation([1, 2, 3, 4]), 3)
    0.25
    """
    logged = np.asarray(values, dtype=float)
    logged = logged[~np.isnan(logged)]
    if len(logged) < 2 or np.ptp(logged) == 0.0:
        return 0.0
    off = (logged - logged.mean()) / np.ptp(logged)
    return float(off[1:] @ off[:-1] / (off @ off))


def notes_on(values: NDArray[np.float64], sigma: float, *, on_log_scale: bool) -> tuple[str, ...]:
    """
    Tell what a reader of a chart of single values should know, a sentence each.

    Parameters
    ----------
    values : array, shape (n_values,)
        Logged values in time order, on the scale the limits were computed on; no NaN.
    sigma : float
        The chart's sigma, on the same scale.
    on_log_scale : bool
        Whether the scale is logarithmic.

    Returns
    -------
    tuple of str
    """
    notes = []
    count, distinct = len(values), np.unique(values)
    if count < _FEWEST_FOR_LIMITS:
        notes.append(f"Only {count} values: the limits are provisional (20 or more settle them).")
    skew = skewness(values)
    if count >= _FEWEST_FOR_LIMITS and abs(skew) > _SKEW_WORTH_TELLING:
        side = "high" if skew > 0 else "low"
        notes.append(
            f"The values have a long tail on the {side} side (skewness {skew:.1f}), "
            "so more points than usual lie beyond that limit."
        )
    if len(distinct) < min(_FEW_DISTINCT, count):
        notes.append(
            f"The values take only {len(distinct)} different numbers, "
            "so limits and patterns are rough."
        )
    elif not on_log_scale and np.diff(distinct).min() > sigma:
        notes.append(
            "The values are rounded more coarsely than they vary, so limits and patterns are rough."
        )
    likeness = lag_one_correlation(values)
    if likeness > max(_LIKENESS_WORTH_TELLING, 2.0 / math.sqrt(count)):
        notes.append(
            f"Each value resembles the one before (correlation {likeness:.2f}), so limits from "
            "moving ranges are too narrow and signals come too often."
        )
    return tuple(notes)
