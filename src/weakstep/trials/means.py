"""Power and size of a trial with a measured outcome: the t test of means of nested chips."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.enough import ALPHA, POWER

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


def mean_power(difference: float, deviation: float, runs: int, alpha: float = ALPHA) -> float:
    r"""
    Chance that a two-sided t test of two groups of *runs* shows a difference of means.

    With noncentrality :math:`d \sqrt{n/2} / s` and :math:`2n - 2` degrees of freedom.

    Parameters
    ----------
    difference, deviation : float
        Of run means, in one unit; deviation between runs at one level, above 0.
    runs : int
        At each level, at least 2.
    alpha : float

    References
    ----------
    Cohen, J. (1988), Statistical Power Analysis for the Behavioral Sciences, 2nd edition, section
    2.3.

    Examples
    --------
    >>> round(mean_power(0.5, 1.0, 64), 3)
    0.801
    """
    from scipy.special import nctdtr, stdtrit

    freedom = 2.0 * runs - 2.0
    reach = float(stdtrit(freedom, 1.0 - alpha / 2.0))
    off = abs(difference) / deviation * math.sqrt(runs / 2.0)
    return float(1.0 - nctdtr(freedom, off, reach) + nctdtr(freedom, off, -reach))


def runs_for_means(
    difference: float, deviation: float, *, power: float = POWER, alpha: float = ALPHA
) -> int:
    """
    Count the runs at each of two levels that show a difference of means of a measured outcome.

    Chips of one run are averaged first, so *deviation* is that between run means.

    Raises
    ------
    ValueError
        No difference, or no deviation.

    References
    ----------
    As for `mean_power`; Cohen's table 2.4.1 gives 64 for d = 0.5, 26 for d = 0.8.

    Examples
    --------
    >>> runs_for_means(0.5, 1.0), runs_for_means(0.8, 1.0)
    (64, 26)
    """
    if difference == 0.0 or deviation <= 0.0:
        msg = (
            f"Found a difference of {difference:g} and a deviation of {deviation:g}; expected a "
            "difference that is not 0 and a deviation above 0."
        )
        raise ValueError(msg)
    few, enough = 1, 2
    while mean_power(difference, deviation, enough, alpha) < power:
        few, enough = enough, 2 * enough
    while enough - few > 1:
        middle = (few + enough) // 2
        if mean_power(difference, deviation, middle, alpha) < power:
            few = middle
        else:
            enough = middle
    return enough


def scatter_of_means(values: ArrayLike, runs: ArrayLike, chips: float) -> tuple[float, float]:
    r"""
    Return one standard deviation of the mean of *chips* chips of a run, and their correlation.

    With mean squares :math:`MS_b` between and :math:`MS_w` within runs, and :math:`n_0 = (N - \sum
    m_i^2 / N) / (r - 1)` chips of a typical run, the scatter of runs is
    :math:`\sigma_b^2 = (MS_b - MS_w) / n_0`, at least 0, that of chips within a run
    :math:`\sigma_w^2 = MS_w`, and

    .. math:: \sqrt{\sigma_b^2 + \sigma_w^2 / m}, \qquad
        \rho = \sigma_b^2 / (\sigma_b^2 + \sigma_w^2)

    the standard deviation of a mean of *m* chips and the correlation of two chips of a run: the
    design effect :math:`1 + (m - 1) \rho` over the scatter of single chips.

    Parameters
    ----------
    values : array_like, shape (n_chips,)
        In one unit, no NaN.
    runs : array_like, shape (n_chips,)
        Which run each chip is of. Where no run has two chips, these are taken to be alike.
    chips : float
        Of a run of the trial, m.

    Returns
    -------
    tuple of two floats
        In the unit of *values*; 0 where fewer than two runs, or no two different values, are given.

    References
    ----------
    Searle, S. R., Casella, G. & McCulloch, C. E. (1992), Variance Components, chapter 3.

    Examples
    --------
    >>> scatter, correlation = scatter_of_means([1.0, 3.0, 5.0, 7.0], ["a", "a", "b", "b"], 2)
    >>> round(scatter, 3), round(correlation, 3)
    (2.828, 0.778)
    """
    y = np.asarray(values, dtype=float)
    _, run = np.unique(np.asarray(runs), return_inverse=True)
    size = np.bincount(run)
    if len(size) < 2:
        return 0.0, 0.0
    mean = np.bincount(run, weights=y) / size
    between = float((size * (mean - y.mean()) ** 2).sum()) / (len(size) - 1)
    if len(y) == len(size):
        return math.sqrt(between), 1.0 if between > 0.0 else 0.0
    within = float(((y - mean[run]) ** 2).sum()) / (len(y) - len(size))
    typical = (len(y) - float((size**2).sum()) / len(y)) / (len(size) - 1)
    of_runs = (between - within) / typical
    if of_runs <= 0.0:  # runs scatter no more than their chips let them
        return math.sqrt(float(y.var(ddof=1)) / chips), 0.0
    return math.sqrt(of_runs + within / chips), of_runs / (of_runs + within)
