"""Probability limits of counts: exact quantiles of the binomial and the Poisson distribution."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import chance, real, whole_counts
from weakstep.charts.count_zones import (
    MOST_COUNT,
    binomial_at_most,
    binomial_more_than,
    expected_counts,
)
from weakstep.charts.frozen import frozen
from weakstep.charts.rare import LEAST_CHANCE, THREE_SIGMA_CHANCE

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

_ROUNDING = 1e-12  # share by which a chance that should be met may be passed


@dataclass(frozen=True, eq=False)
class CountLimits:
    """
    Limits of counts, a point on a limit not being beyond it, and the chances they achieve.

    Attributes
    ----------
    lower, upper : array, shape (n_points,)
        Whole counts; a lower limit of 0 has nothing below it.
    below, above : array, shape (n_points,)
        Chance of a count below the lower and above the upper limit. Their sum is the chance of a
        signal, one over it the average run length of points of that size.
    """

    lower: Floats
    upper: Floats
    below: Floats
    above: Floats


def binomial_limits(
    tested: ArrayLike,
    share: float,
    now: float | None = None,
    *,
    false_alarm: float = THREE_SIGMA_CHANCE,
) -> CountLimits:
    r"""
    Limits of the number of failed items with at most half of a stated chance beyond each.

    The lower limit is the largest *a* with :math:`P(X < a) \le \alpha/2` and the upper one the
    smallest *b* with :math:`P(X > b) \le \alpha/2`, *X* binomial. As counts are whole the chances
    achieved are less than asked for, and often the lower one is 0: they are told.

    Parameters
    ----------
    tested : array_like of int, shape (n_points,)
        Items in each point, at least 1.
    share : float
        Share of failures that the limits come from, strictly between 0 and 1.
    now : float, optional
        True share of failures for the chances told; default *share*, a stable process.
    false_alarm : float
        :math:`\alpha`, chance of a stable point beyond either limit at most; default that of a
        normal value beyond three sigma, 0.0027; at least 1e-15.

    Returns
    -------
    CountLimits

    Raises
    ------
    ValueError
        An argument is out of range.

    References
    ----------
    G. B. Wetherill and D. W. Brown (1991), Statistical Process Control: Theory and Practice,
    Chapman and Hall, chapters on attribute charts.

    Examples
    --------
    >>> limits = binomial_limits([50], 0.1, false_alarm=0.0027)
    >>> limits.lower.tolist(), limits.upper.tolist()
    ([0.0], [12.0])
    >>> limits.below.tolist(), limits.above.round(5).tolist()
    ([0.0], [0.001])
    """
    from scipy.stats import binom

    chance("share", share)
    true = share if now is None else real("now", now, least=0.0, most=1.0)
    half = real("false_alarm", chance("false_alarm", false_alarm), least=LEAST_CHANCE) / 2.0
    size = whole_counts("tested", tested)
    if not ((size >= 1.0) & (size <= MOST_COUNT)).all():
        msg = f"tested must be from 1 to {MOST_COUNT:g} in every point"
        raise ValueError(msg)
    guess = binom.ppf(half, size, share), binom.isf(half, size, share)
    lower = _lower(guess[0], half, lambda count: binomial_at_most(count, size, share))
    upper = _upper(guess[1], half, lambda count: binomial_more_than(count, size, share))
    return CountLimits(
        frozen(lower),
        frozen(upper),
        frozen(binomial_at_most(lower - 1.0, size, true)),
        frozen(binomial_more_than(upper, size, true)),
    )


def poisson_limits(
    mean: ArrayLike, now: ArrayLike | None = None, *, false_alarm: float = THREE_SIGMA_CHANCE
) -> CountLimits:
    r"""
    Limits of the number of faults with at most half of a stated chance beyond each.

    As `binomial_limits`, for a Poisson number.

    Parameters
    ----------
    mean : array_like, shape (n_points,)
        Expected faults of each point that the limits come from, above 0.
    now : array_like, shape (n_points,), optional
        True expected faults for the chances told; default *mean*, a stable process.
    false_alarm : float
        :math:`\alpha`, as for `binomial_limits`.

    Returns
    -------
    CountLimits

    Raises
    ------
    ValueError
        An argument is out of range.

    References
    ----------
    As for `binomial_limits`.

    Examples
    --------
    >>> limits = poisson_limits([16.0], false_alarm=0.0027)
    >>> limits.lower.tolist(), limits.upper.tolist()
    ([5.0], [29.0])
    >>> round(float(limits.below[0] + limits.above[0]), 5)
    0.00153
    """
    from scipy.special import pdtr, pdtrc
    from scipy.stats import poisson

    half = real("false_alarm", chance("false_alarm", false_alarm), least=LEAST_CHANCE) / 2.0
    expected = expected_counts("mean", mean)
    true = expected if now is None else expected_counts("now", now)
    if true.shape != expected.shape:
        msg = f"now must have a mean for each of {len(expected)} points, got {len(true)}"
        raise ValueError(msg)

    def at_most(count: Floats, m: Floats) -> Floats:
        return np.where(count < 0.0, 0.0, pdtr(np.maximum(count, 0.0), m))

    def more_than(count: Floats, m: Floats) -> Floats:
        return np.where(count < 0.0, 1.0, pdtrc(np.maximum(count, 0.0), m))

    lower = _lower(poisson.ppf(half, expected), half, lambda count: at_most(count, expected))
    upper = _upper(poisson.isf(half, expected), half, lambda count: more_than(count, expected))
    return CountLimits(
        frozen(lower),
        frozen(upper),
        frozen(at_most(lower - 1.0, true)),
        frozen(more_than(upper, true)),
    )


def _lower(guess: Floats, half: float, at_most: Callable[[Floats], Floats]) -> Floats:
    """Largest counts with a chance of at most *half* below them, from a guess close to them."""
    met = half * (1.0 + _ROUNDING)
    count = np.asarray(guess, dtype=float).copy()
    while (high := at_most(count - 1.0) > met).any():
        count -= high
    while (low := at_most(count) <= met).any():
        count += low
    return count


def _upper(guess: Floats, half: float, more_than: Callable[[Floats], Floats]) -> Floats:
    """Smallest counts with a chance of at most *half* above them, from a guess close to them."""
    met = half * (1.0 + _ROUNDING)
    count = np.asarray(guess, dtype=float).copy()
    while (low := more_than(count) > met).any():
        count += low
    while (high := (count > 0.0) & (more_than(count - 1.0) <= met)).any():
        count -= high
    return count
