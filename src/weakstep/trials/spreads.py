"""How much two groups of values differ in spread, whatever their distribution."""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from weakstep.interval import Interval

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

FEWEST_VALUES = 5  # of a group; the trimming of its mean needs as many


def ratio_of_spreads(first: ArrayLike, second: ArrayLike, *, level: float = 0.95) -> Interval:
    r"""
    Ratio of two standard deviations, second over first, with Bonett's interval.

    With the kurtosis pooled about trimmed means :math:`m_j` (a share :math:`1 / (2 \sqrt{n_j - 4})`
    trimmed from either end),

    .. math:: \hat\gamma = \frac{(n_1 + n_2) \sum_j \sum_i (y_{ij} - m_j)^4}
        {\left(\sum_j (n_j - 1) s_j^2\right)^2}, \qquad
        e^2 = \sum_j \frac{\hat\gamma - (n_j - 3) / n_j}{n_j - 1},

    the ends are :math:`\sqrt{\exp(\ln(c \, s_2^2 / s_1^2) \pm z e)}` with the correction
    :math:`c = \frac{n_2 / (n_2 - z)}{n_1 / (n_1 - z)}` for small groups.

    Parameters
    ----------
    first, second : array_like
        At least 5 values each, in one unit; no NaN.
    level : float, default 0.95

    Returns
    -------
    Interval
        Without unit. From 0 to infinity where a group does not vary at all; the estimate is then 0,
        or NaN where it is the first.

    Raises
    ------
    ValueError
        Fewer than 5 values in a group.

    References
    ----------
    Bonett, D. G. (2006), Robust confidence interval for a ratio of standard deviations, Applied
    Psychological Measurement 30, 432-439.

    Examples
    --------
    >>> found = ratio_of_spreads([9.0, 10, 11, 10, 9, 11, 10], [8.0, 12, 10, 13, 7, 10, 11])
    >>> round(found.estimate, 2), round(found.lower, 2), round(found.upper, 2)
    (2.59, 1.04, 6.45)
    """
    groups = [np.asarray(group, dtype=float) for group in (first, second)]
    if min(map(len, groups)) < FEWEST_VALUES:
        sizes = " and ".join(str(len(group)) for group in groups)
        msg = f"Found {sizes} values; expected at least {FEWEST_VALUES} in each group."
        raise ValueError(msg)
    before, since = (float(group.std(ddof=1)) for group in groups)
    if before == 0.0 or since == 0.0:
        return Interval(math.nan if before == 0.0 else 0.0, 0.0, math.inf, level)
    z = NormalDist().inv_cdf(0.5 + level / 2.0)
    kurtosis = _pooled_kurtosis(groups)
    error = math.sqrt(
        sum((kurtosis - (len(group) - 3) / len(group)) / (len(group) - 1) for group in groups)
    )
    one, two = (len(group) / (len(group) - z) for group in groups)
    middle = math.log(since / before) + math.log(two / one) / 2.0
    ends = [math.exp(middle - z * error / 2.0), math.exp(middle + z * error / 2.0)]
    ratio = since / before
    return Interval(ratio, min(ends[0], ratio), max(ends[1], ratio), level)


def _pooled_kurtosis(groups: list[Floats]) -> float:
    fourth = sum(float(((group - _trimmed_mean(group)) ** 4).sum()) for group in groups)
    squares = sum((len(group) - 1) * float(group.var(ddof=1)) for group in groups)
    return sum(map(len, groups)) * fourth / squares**2


def _trimmed_mean(values: Floats) -> float:
    from scipy.stats import trim_mean

    return float(trim_mean(values, 1.0 / (2.0 * math.sqrt(len(values) - 4))))
