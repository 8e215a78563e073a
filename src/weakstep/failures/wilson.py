"""The score interval of a proportion."""

from __future__ import annotations

import math
from statistics import NormalDist

from weakstep.interval import Interval


def wilson(count: float, tested: float, level: float = 0.95) -> Interval:
    r"""
    Score interval of a proportion.

    With :math:`p = k / n` and :math:`z` the normal quantile of the level, the ends are

    .. math:: \frac{2 n p + z^2 \mp z \sqrt{z^2 + 4 n p (1 - p)}}{2 (n + z^2)}.

    Parameters
    ----------
    count : float
        Chips that showed it (k); 0 <= k <= n. Shared-out chips need not be whole ones.
    tested : float
        Chips looked at (n); above 0.
    level : float, default 0.95
        Coverage the interval is built for, between 0 and 1.

    Returns
    -------
    Interval
        A share, between 0 and 1.

    Raises
    ------
    ValueError
        When `tested` is not above 0, or `count` is not between 0 and `tested`.

    References
    ----------
    Wilson, E. B. (1927), J. Am. Stat. Assoc. 22, 209-212; method 3 of Newcombe, R. G. (1998),
    Statistics in Medicine 17, 857-872.

    Examples
    --------
    >>> interval = wilson(81, 263)
    >>> round(interval.lower, 4), round(interval.upper, 4)
    (0.2553, 0.3662)
    """
    if not (tested > 0 and 0 <= count <= tested):
        message = f"A share needs 0 <= count <= tested and tested > 0; got {count} of {tested}."
        raise ValueError(message)
    z = NormalDist().inv_cdf(0.5 + level / 2.0)
    share = count / tested
    middle = 2.0 * count + z * z
    half = z * math.sqrt(z * z + 4.0 * count * (1.0 - share))
    scale = 2.0 * (tested + z * z)
    lower = 0.0 if count == 0 else max(0.0, (middle - half) / scale)
    upper = 1.0 if count == tested else min(1.0, (middle + half) / scale)
    return Interval(share, lower, upper, level)
