"""Failure rates before and after, their difference, and how little a few good chips say."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.interval import Interval

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Counts = NDArray[np.int_]
    Flags = NDArray[np.bool_]
    Limits = Callable[[float, float, float], tuple[float, float]]

# Before a chip has failed nothing is seen of how chips fail together: one failed chip's worth of a
# small correlation stands in. Chosen by simulation among weights of 0 to 3 and 0.1 to 0.2.
_USUAL_CORRELATION = 0.1
_ITS_WEIGHT = 1.0


@dataclass(frozen=True)
class Nesting:
    """
    How chips of one run fail together, in several groups of runs at once.

    Attributes
    ----------
    correlation : float
        Of the outcomes of two chips of a run, 0 to 1.
        As estimated.
    effects : tuple of float
        Design effect of each group: how many times more chips it takes. Above 1 even where the
        correlation is estimated as 0, as long as few chips have failed.
    freedom : int
        Runs less groups, at least 1.
    """

    correlation: float
    effects: tuple[float, ...]
    freedom: int


def nesting(failed: Counts, tested: Counts, group: Flags | Counts) -> Nesting:
    r"""
    Estimate the within-run correlation with each group having a rate of its own.

    Mean squares between runs (within groups) and within runs give
    :math:`\hat\rho = (MS_b - MS_w) / (MS_b + (n_0 - 1) MS_w)`, at least 0, and each group's design
    effect :math:`1 + (\sum m^2 / \sum m - 1) \rho'`. A few failures say little about the
    correlation, and an estimate of 0 would then promise too much; with *F* the failed chips or the
    good ones, whichever are fewer, :math:`\rho' = (F \hat\rho + 0.1) / (F + 1)`.

    Parameters
    ----------
    failed, tested : array of int, shape (n_runs,)
    group : array of bool or int, shape (n_runs,)
        Whether a run is of the second of two groups, or its group, counted from 0.

    References
    ----------
    Ridout, M. S., Demetrio, C. G. B. & Firth, D. (1999), Biometrics 55, 137-148; Donner, A. & Klar,
    N. (2000), Design and Analysis of Cluster Randomization Trials in Health Research, chapter 5.

    Examples
    --------
    >>> halves = np.array([False, False, True, True])
    >>> found = nesting(np.array([2, 0, 2, 0]), np.array([2, 2, 2, 2]), halves)
    >>> found.correlation, [round(effect, 2) for effect in found.effects]
    (1.0, [1.82, 1.82])
    """
    used = tested > 0
    k, m, code = failed[used].astype(float), tested[used].astype(float), group[used].astype(int)
    groups = 2 if group.dtype == bool else int(group.max(initial=0)) + 1
    freedom = max(1, len(k) - groups)
    chips = np.bincount(code, weights=m, minlength=groups)
    some = np.maximum(chips, 1.0)  # an empty group adds nothing
    rate = np.bincount(code, weights=k, minlength=groups) / some
    typical = np.bincount(code, weights=m**2, minlength=groups) / some
    between = float((m * (k / m - rate[code]) ** 2).sum()) / freedom
    within = float((k * (1.0 - k / m)).sum()) / max(1.0, float(m.sum()) - len(k))
    size = (float(m.sum()) - float(typical.sum())) / freedom
    below = between + (size - 1.0) * within
    rho = min(1.0, max(0.0, (between - within) / below)) if below > 0.0 and size > 1.0 else 0.0
    seen = min(float(k.sum()), float((m - k).sum()))
    shrunk = (seen * rho + _ITS_WEIGHT * _USUAL_CORRELATION) / (seen + _ITS_WEIGHT)
    effects = np.where(chips > 0.0, 1.0 + (typical - 1.0) * shrunk, 1.0)
    return Nesting(rho, tuple(map(float, effects)), freedom)


def score_limits(share: float, size: float, z: float) -> tuple[float, float]:
    r"""
    Score limits of a share seen in *size* independent chips, which need not be a whole number.

    Wilson's formula (see `weakstep.failures.tally.wilson`) with the quantile *z* given.

    Examples
    --------
    >>> [round(end, 4) for end in score_limits(81 / 263, 263, 1.959964)]
    [0.2553, 0.3662]
    """
    middle = share + z * z / (2.0 * size)
    half = z * math.sqrt(share * (1.0 - share) / size + z * z / (4.0 * size * size))
    scale = 1.0 + z * z / size
    lower = 0.0 if share == 0.0 else max(0.0, (middle - half) / scale)
    upper = 1.0 if share == 1.0 else min(1.0, (middle + half) / scale)
    return lower, upper


def beta_limits(share: float, size: float, z: float) -> tuple[float, float]:
    r"""
    Equal-tailed limits of a share with Jeffreys' prior; *size* need not be a whole number.

    Quantiles :math:`\Phi(-z)` and :math:`\Phi(z)` of the beta law with parameters
    :math:`k + 1/2` and :math:`n - k + 1/2`; the end of the scale itself where none or all failed.

    References
    ----------
    Brown, L. D., Cai, T. T. & DasGupta, A. (2001), Interval estimation for a binomial proportion,
    Statistical Science 16, 101-133, section 3.1.2.

    Examples
    --------
    >>> [round(end, 4) for end in beta_limits(81 / 263, 263, 1.959964)]
    [0.2545, 0.3656]
    """
    from scipy.special import betaincinv, ndtr

    bad, good, tail = share * size + 0.5, (1.0 - share) * size + 0.5, float(ndtr(-z))
    lower = 0.0 if share == 0.0 else float(betaincinv(bad, good, tail))
    upper = 1.0 if share == 1.0 else float(betaincinv(bad, good, 1.0 - tail))
    return lower, upper


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
    shares, ends = [], []
    for count, tested in (first, second):
        if not (tested > 0 and 0 <= count <= tested):
            msg = f"A share needs 0 <= failed <= tested and tested > 0; got {count} of {tested}."
            raise ValueError(msg)
        share = count / tested
        shares.append(share)
        ends.append(limits(share, tested, z))
    (p1, p2), ((l1, u1), (l2, u2)) = shares, ends
    difference = p1 - p2
    return Interval(
        difference,
        max(-1.0, difference - math.hypot(p1 - l1, u2 - p2)),
        min(1.0, difference + math.hypot(u1 - p1, p2 - l2)),
        level,
    )


def still_possible(failed: float, tested: float, level: float = 0.95) -> float:
    r"""
    Return the highest rate that so few failures still allow: exact one-sided upper limit.

    The rate p at which :math:`P(X \le k) = 1 - level`; :math:`1 - (1 - level)^{1/n}` for k = 0.

    Parameters
    ----------
    failed, tested : float
        Divided by the design effect when chips are nested in runs.
    level : float, default 0.95

    References
    ----------
    Clopper, C. J. & Pearson, E. S. (1934), Biometrika 26, 404-413.

    Examples
    --------
    >>> round(still_possible(0, 12), 2)
    0.22
    """
    from scipy.special import betaincinv

    if failed >= tested:
        return 1.0
    return float(betaincinv(failed + 1.0, tested - failed, level))


def good_in_a_row_needed(rate: float, level: float = 0.95) -> int:
    """
    Chips that must be good in a row, independently, before *rate* can be ruled out.

    Examples
    --------
    >>> good_in_a_row_needed(0.22), good_in_a_row_needed(0.05)
    (13, 59)
    """
    return math.ceil(math.log1p(-level) / math.log1p(-rate))
