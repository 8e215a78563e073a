"""Intervals of a difference of two shares: of two groups of chips, and of pairs."""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import TYPE_CHECKING

from weakstep.interval import Interval
from weakstep.trials.shares import score_limits

if TYPE_CHECKING:
    from collections.abc import Callable

    Limits = Callable[[float, float, float], tuple[float, float]]

_HALVINGS = 60  # of the interval in which an end is looked for: to 1e-18


def newcombe_difference(
    first: tuple[float, float],
    second: tuple[float, float],
    *,
    level: float = 0.95,
    freedom: float = math.inf,
    limits: Limits = score_limits,
) -> Interval:
    r"""
    Interval of a difference of two shares, from the limits of each ("square and add").

    With shares :math:`p_1, p_2` and their limits :math:`l_i, u_i`, the ends of
    :math:`d = p_1 - p_2` are

    .. math:: d - \sqrt{(p_1 - l_1)^2 + (u_2 - p_2)^2}, \qquad
        d + \sqrt{(u_1 - p_1)^2 + (p_2 - l_2)^2}.

    Parameters
    ----------
    first, second : tuple of (failed, tested)
        Tested above 0. Divide both by the design effect when chips are nested in runs.
    level : float, default 0.95
    freedom : float, default infinity
        Degrees of freedom behind the design effects: a t quantile replaces the normal one.
    limits : function of share, size and quantile, default `score_limits`
        Limits of one share. Score limits make the published interval, which is too wide where
        both shares are small; with `beta_limits` it holds its level there, too.

    Returns
    -------
    Interval
        Of first less second, between -1 and 1.

    Raises
    ------
    ValueError
        A count is not between 0 and its number tested.

    References
    ----------
    Newcombe, R. G. (1998), Interval estimation for the difference between independent proportions:
    comparison of eleven methods, Statistics in Medicine 17, 873-890, method 10; Zou, G. Y. &
    Donner, A. (2008), Statistics in Medicine 27, 1693-1702, for other limits; Laud, P. J. (2017),
    Equal-tailed confidence intervals for comparison of rates, Pharmaceutical Statistics 16,
    334-348, for those of Jeffreys' prior.

    Examples
    --------
    >>> found = newcombe_difference((56, 70), (48, 80))
    >>> round(found.lower, 4), round(found.upper, 4)
    (0.0524, 0.3339)
    """
    from scipy.special import ndtri, stdtrit

    tail = 0.5 + level / 2.0
    z = float(ndtri(tail) if math.isinf(freedom) else stdtrit(freedom, tail))
    p1, p2 = _share(first), _share(second)
    (l1, u1), (l2, u2) = limits(p1, first[1], z), limits(p2, second[1], z)
    difference = p1 - p2
    return Interval(
        difference,
        max(-1.0, difference - math.hypot(p1 - l1, u2 - p2)),
        min(1.0, difference + math.hypot(u1 - p1, p2 - l2)),
        level,
    )


def score_difference(
    first: tuple[float, float], second: tuple[float, float], *, level: float = 0.95
) -> Interval:
    r"""
    Interval of a difference of two shares by inverting the score test.

    It holds every :math:`d` with

    .. math:: \frac{|p_1 - p_2 - d|}{\sqrt{\left(\frac{\tilde p_1 (1 - \tilde p_1)}{n_1}
        + \frac{\tilde p_2 (1 - \tilde p_2)}{n_2}\right) \frac{N}{N - 1}}} \le z,

    where :math:`\tilde p_1 = \tilde p_2 + d` are the likeliest rates that differ by *d*.

    Parameters
    ----------
    first, second : tuple of (failed, tested)
        Tested above 0.
    level : float, default 0.95

    Returns
    -------
    Interval
        Of first less second.

    Raises
    ------
    ValueError
        A count is not between 0 and its number tested.

    References
    ----------
    Miettinen, O. & Nurminen, M. (1985), Comparative analysis of two rates, Statistics in Medicine
    4, 213-226; the closed form of the likeliest rates is that of its appendix.

    Examples
    --------
    >>> found = score_difference((56, 70), (48, 80))
    >>> round(found.lower, 4), round(found.upper, 4)
    (0.0528, 0.3382)
    """
    z = NormalDist().inv_cdf(0.5 + level / 2.0)
    difference = _share(first) - _share(second)

    def too_far(off: float) -> bool:
        return abs(difference - off) > z * _error_at(off, first, second)

    ends = []
    for outside in (-1.0, 1.0):
        inside = difference
        for _ in range(_HALVINGS):
            middle = (inside + outside) / 2.0
            inside, outside = (inside, middle) if too_far(middle) else (middle, outside)
        ends.append(inside)
    return Interval(difference, ends[0], ends[1], level)


def _error_at(off: float, first: tuple[float, float], second: tuple[float, float]) -> float:
    """Return the standard error of the difference where it is *off*."""
    (x1, n1), (x2, n2) = first, second
    every = n1 + n2
    # The likeliest second rate is the root between 0 and 1 of a cubic in it.
    square = ((n1 + 2.0 * n2) * off - every - x1 - x2) / every
    linear = ((n2 * off - every - 2.0 * x2) * off + x1 + x2) / every
    constant = x2 * off * (1.0 - off) / every
    half = (square / 3.0) ** 3 - square * linear / 6.0 + constant / 2.0
    size = math.copysign(math.sqrt(max(0.0, square**2 / 9.0 - linear / 3.0)), half)
    ratio = half / size**3 if size != 0.0 else 0.0
    angle = (math.pi + math.acos(max(-1.0, min(1.0, ratio)))) / 3.0
    low = min(1.0, max(0.0, 2.0 * size * math.cos(angle) - square / 3.0))
    high = min(1.0, max(0.0, low + off))
    variance = high * (1.0 - high) / n1 + low * (1.0 - low) / n2
    return math.sqrt(variance * every / (every - 1.0))


def plus_four_difference(
    first: tuple[float, float], second: tuple[float, float], *, level: float = 0.95
) -> Interval:
    r"""
    Interval of a difference of two shares after one failure and one success more in each group.

    With :math:`\tilde p_i = (x_i + 1) / (n_i + 2)`,
    :math:`\tilde p_1 - \tilde p_2 \pm z \sqrt{\sum \tilde p_i (1 - \tilde p_i) / (n_i + 2)}`.

    Parameters
    ----------
    first, second : tuple of (failed, tested)
        Tested above 0.
    level : float, default 0.95

    Returns
    -------
    Interval
        Its estimate is the difference as observed.

    Raises
    ------
    ValueError
        A count is not between 0 and its number tested.

    References
    ----------
    Agresti, A. & Caffo, B. (2000), Simple and effective confidence intervals for proportions and
    differences of proportions, The American Statistician 54, 280-288.

    Examples
    --------
    >>> found = plus_four_difference((56, 70), (48, 80))
    >>> round(found.lower, 3), round(found.upper, 3)
    (0.052, 0.336)
    """
    z = NormalDist().inv_cdf(0.5 + level / 2.0)
    difference = _share(first) - _share(second)
    shares = [(count + 1.0) / (tested + 2.0) for count, tested in (first, second)]
    variance = sum(
        share * (1.0 - share) / (tested + 2.0)
        for share, (_, tested) in zip(shares, (first, second), strict=True)
    )
    middle, reach = shares[0] - shares[1], z * math.sqrt(variance)
    return Interval(difference, max(-1.0, middle - reach), min(1.0, middle + reach), level)


def paired_difference(
    both: int, only_first: int, only_second: int, neither: int, *, level: float = 0.95
) -> Interval:
    r"""
    Interval of a difference of two shares seen in pairs of chips, one of each kind.

    Score limits of each share are put together as by `newcombe_difference`, less what the
    correlation :math:`\phi` of a pair takes away:

    .. math:: d - \sqrt{(p_1 - l_1)^2 - 2 \phi (p_1 - l_1)(u_2 - p_2) + (u_2 - p_2)^2}, \qquad
        d + \sqrt{(u_1 - p_1)^2 - 2 \phi (u_1 - p_1)(p_2 - l_2) + (p_2 - l_2)^2}.

    Parameters
    ----------
    both, only_first, only_second, neither : int
        Pairs by which of their two chips failed; at least one pair.
    level : float, default 0.95

    Returns
    -------
    Interval
        Of first less second.

    Raises
    ------
    ValueError
        A count below 0, or no pair at all.

    References
    ----------
    Newcombe, R. G. (1998), Improved confidence intervals for the difference between binomial
    proportions based on paired data, Statistics in Medicine 17, 2635-2650, method 10.

    Examples
    --------
    >>> found = paired_difference(36, 12, 2, 0)
    >>> round(found.lower, 4), round(found.upper, 4)
    (0.0569, 0.3404)
    """
    pairs = both + only_first + only_second + neither
    if min(both, only_first, only_second, neither) < 0 or pairs == 0:
        msg = f"Counts of pairs need to be at least 0, and one above; got {pairs} in all."
        raise ValueError(msg)
    z = NormalDist().inv_cdf(0.5 + level / 2.0)
    p1, p2 = (both + only_first) / pairs, (both + only_second) / pairs
    (l1, u1), (l2, u2) = score_limits(p1, pairs, z), score_limits(p2, pairs, z)
    phi = _correlation_of_pairs(both, only_first, only_second, neither)
    difference = only_first / pairs - only_second / pairs

    def reach(one: float, other: float) -> float:
        return math.sqrt(max(0.0, one**2 - 2.0 * phi * one * other + other**2))

    return Interval(
        difference,
        difference - reach(p1 - l1, u2 - p2),
        difference + reach(u1 - p1, p2 - l2),
        level,
    )


def _correlation_of_pairs(both: int, only_first: int, only_second: int, neither: int) -> float:
    """Return phi with a continuity correction where it is above 0; 0 where it has no value."""
    pairs = both + only_first + only_second + neither
    square = (both + only_first) * (only_second + neither) * (both + only_second)
    square *= only_first + neither
    if square == 0:
        return 0.0
    cross = both * neither - only_first * only_second
    if cross > 0:
        return max(0.0, cross - pairs / 2.0) / math.sqrt(square)
    return cross / math.sqrt(square)


def _share(group: tuple[float, float]) -> float:
    """Return failed of tested as a share."""
    count, tested = group
    if not (tested > 0 and 0 <= count <= tested):
        msg = f"A share needs 0 <= failed <= tested and tested > 0; got {count} of {tested}."
        raise ValueError(msg)
    return count / tested
