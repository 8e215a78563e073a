"""Limits of one share, and how little a few good chips say."""

from __future__ import annotations

import math


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


def exact_limits(failed: float, tested: float, level: float = 0.95) -> tuple[float, float]:
    r"""
    Return exact two-sided limits of a share, each with half of what the level leaves.

    The rates p at which :math:`P(X \ge k)` and :math:`P(X \le k)` are :math:`(1 - level) / 2`.

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
    >>> [round(end, 4) for end in exact_limits(81, 263)]
    [0.2527, 0.3676]
    """
    one_sided = 0.5 + level / 2.0
    good = still_possible(tested - failed, tested, one_sided)
    return 1.0 - good, still_possible(failed, tested, one_sided)


def still_possible(failed: float, tested: float, level: float = 0.95) -> float:
    r"""
    Return the highest rate that so few failures still allow: exact one-sided upper limit.

    The rate p at which :math:`P(X \le k) = 1 - level`; :math:`1 - (1 - level)^{1/n}` for k = 0,
    which is nearly 3 / n at 95 % (the rule of three).

    Parameters
    ----------
    failed, tested : float
        Divided by the design effect when chips are nested in runs.
    level : float, default 0.95

    References
    ----------
    Clopper, C. J. & Pearson, E. S. (1934), Biometrika 26, 404-413; Hanley, J. A. & Lippman-Hand,
    A. (1983), If nothing goes wrong, is everything all right?, JAMA 249, 1743-1745.

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
