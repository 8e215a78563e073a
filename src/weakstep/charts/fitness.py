"""Whether values suit a chart of single values: skew, rounding, likeness of neighbours."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.row_checks import one_row

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

_SKEW_WORTH_TELLING = 1.0
_SKEW_WORTH_A_LOG = 0.5
_FEWEST_FOR_LIMITS = 20
_FEW_DISTINCT = 6
_LIKENESS_WORTH_TELLING = 0.25
_NOT_NORMAL = 0.005  # p of Anderson and Darling's test
_DISTINCT_FOR_NORMALITY = 20  # rounding alone is not told as a wrong shape
_MOST_DECIMALS = 6
_HEAPED_SHARE = 0.5  # of the values that end in 0 or 5, where a fifth is expected
_HEAPED_SIGMAS = 4.0


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

    Raises
    ------
    ValueError
        *values* is not one row of numbers.

    Examples
    --------
    >>> round(skewness([1, 1, 1, 5]), 4), skewness([2, 2])
    (1.1547, 0.0)
    """
    row = one_row(values)
    logged = row[~np.isnan(row)]
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

    Returns
    -------
    bool

    Raises
    ------
    ValueError
        *values* is not one row of numbers.

    Examples
    --------
    >>> suits_log_scale([1, 1, 2, 3, 9]), suits_log_scale([1, 2, 3]), suits_log_scale([-1, 0, 9])
    (True, False, False)
    """
    row = one_row(values)
    logged = row[~np.isnan(row)]
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

    Raises
    ------
    ValueError
        *values* is not one row of numbers.

    Examples
    --------
    >>> round(lag_one_correlation([1, 2, 3, 4]), 3)
    0.25
    """
    row = one_row(values)
    logged = row[~np.isnan(row)]
    if len(logged) < 2 or np.ptp(logged) == 0.0:
        return 0.0
    off = (logged - logged.mean()) / np.ptp(logged)
    return float(off[1:] @ off[:-1] / (off @ off))


def heaped_share(values: ArrayLike) -> float:
    """
    Share of values whose last written digit is 0 or 5, a fifth where readings are not rounded.

    The last digit is that of the finest value. Counts as 0 where that finest place holds fewer
    than 20 values, or values of one digit only (a coarse scale, not a habit).

    Parameters
    ----------
    values : array_like, shape (n_values,)
        In the unit they were written in; NaN is left out.

    Returns
    -------
    float
        Between 0 and 1.

    Raises
    ------
    ValueError
        *values* is not one row of numbers.

    Examples
    --------
    >>> heaped_share([10, 15, 20, 25, 30, 35, 40, 45, 50, 51] * 2)
    0.9
    """
    row = one_row(values)
    logged = row[~np.isnan(row)]
    if len(logged) < _FEWEST_FOR_LIMITS:
        return 0.0
    for decimals in range(_MOST_DECIMALS + 1):
        whole = logged * 10.0**decimals
        if np.abs(whole - np.round(whole)).max() <= max(1e-6, 1e-9 * np.abs(whole).max()):
            digits = np.round(np.abs(whole)) % 10
            heaped = np.isin(digits, (0.0, 5.0))
            return 0.0 if heaped.all() else float(heaped.mean())
    return 0.0


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
    notes += _shape_notes(values, distinct, skew, on_log_scale=on_log_scale)
    likeness = lag_one_correlation(values)
    if likeness > max(_LIKENESS_WORTH_TELLING, 2.0 / math.sqrt(count)):
        notes.append(
            f"Each value resembles the one before (correlation {likeness:.2f}), so limits from "
            "moving ranges are too narrow and signals come too often."
        )
    return tuple(notes)


def _shape_notes(
    values: NDArray[np.float64], distinct: NDArray[np.float64], skew: float, *, on_log_scale: bool
) -> list[str]:
    """Sentences about heaped digits, and about a shape that is not normal without being skewed."""
    notes = []
    heaped = 0.0 if on_log_scale else heaped_share(values)
    by_chance = 0.2 + _HEAPED_SIGMAS * math.sqrt(0.2 * 0.8 / len(values))
    if heaped > max(_HEAPED_SHARE, by_chance):
        notes.append(
            f"{100 * heaped:.0f} % of the values end in 0 or 5: many were rounded when read, so "
            "small changes are hidden."
        )
    if len(distinct) >= _DISTINCT_FOR_NORMALITY and abs(skew) <= _SKEW_WORTH_TELLING:
        from weakstep.charts.normality import anderson_darling

        if anderson_darling(values).p < _NOT_NORMAL:
            notes.append(
                "The values are not normally distributed (Anderson-Darling p below 0.005), so the "
                "chance of a false signal is approximate."
            )
    return notes
