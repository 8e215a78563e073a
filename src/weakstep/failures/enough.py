"""How many runs it takes to see a difference, and how many this log still lacks."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

POWER = 0.80
ALPHA = 0.05
DOUBLING = 2.0
LARGEST_RATE = 0.95


def chips_per_arm(rate_one: float, rate_two: float, power: float, alpha: float) -> float:
    r"""
    Chips in each of two equal arms to tell two failure rates apart.

    .. math:: n = \frac{\left(z_{1-\alpha/2} \sqrt{2 \bar p (1 - \bar p)} + z_{1-\beta}
        \sqrt{p_1 (1 - p_1) + p_2 (1 - p_2)}\right)^2}{(p_1 - p_2)^2},
        \qquad \bar p = (p_1 + p_2) / 2

    Parameters
    ----------
    rate_one, rate_two : float
        Different, between 0 and 1.
    power, alpha : float
        Chance to see the difference; two-sided chance of a false "yes".

    Returns
    -------
    float
        Not rounded; chips that fail independently.

    References
    ----------
    Fleiss, J. L. (1981), Statistical Methods for Rates and Proportions, 2nd edition, equation
    3.14; the same as formula for a binary covariate with equal groups in Hsieh, F. Y., Bloch,
    D. A. & Larsen, M. D. (1998), Statistics in Medicine 17, 1623-1634.

    Examples
    --------
    >>> round(2 * chips_per_arm(0.4, 0.5, power=0.95, alpha=0.05))
    1281
    """
    normal = NormalDist()
    middle = (rate_one + rate_two) / 2.0
    null = math.sqrt(2.0 * middle * (1.0 - middle))
    apart = math.sqrt(rate_one * (1.0 - rate_one) + rate_two * (1.0 - rate_two))
    reach = normal.inv_cdf(1.0 - alpha / 2.0) * null + normal.inv_cdf(power) * apart
    return reach**2 / (rate_one - rate_two) ** 2


def within_run_correlation(failed: np.ndarray, tested: np.ndarray) -> float:
    r"""
    Correlation of the outcomes of chips of one run, by analysis of variance.

    :math:`\rho = (MS_b - MS_w) / (MS_b + (n_0 - 1) MS_w)`, with mean squares between and within
    runs and :math:`n_0 = (N - \sum m_i^2 / N) / (r - 1)`.

    Parameters
    ----------
    failed, tested : array of int, shape (n_runs,)

    Returns
    -------
    float
        Between 0 and 1; 0 when no run has two chips.

    References
    ----------
    Ridout, M. S., Demetrio, C. G. B. & Firth, D. (1999), Biometrics 55, 137-148.

    Examples
    --------
    >>> within_run_correlation(np.array([3, 0, 3, 0]), np.array([3, 3, 3, 3]))
    1.0
    """
    k, m = failed[tested > 0].astype(float), tested[tested > 0].astype(float)
    runs, chips = len(k), float(m.sum())
    if runs < 2 or chips <= runs:
        return 0.0
    rate = k.sum() / chips
    between = float((m * (k / m - rate) ** 2).sum()) / (runs - 1)
    within = float((k * (1.0 - k / m)).sum()) / (chips - runs)
    size = (chips - float((m**2).sum()) / chips) / (runs - 1)
    below = between + (size - 1.0) * within
    if below <= 0.0:
        return 0.0
    return min(1.0, max(0.0, (between - within) / below))


def design_effect(failed: np.ndarray, tested: np.ndarray) -> float:
    """
    Return how many times more chips are needed because chips of one run fail together.

    1 + (m - 1) rho, with m the mean chips a run weighted by chips (Donner, A. & Klar, N. 2000,
    Design and Analysis of Cluster Randomization Trials in Health Research, chapter 5).
    """
    m = tested[tested > 0].astype(float)
    if not len(m):
        return 1.0
    typical = float((m**2).sum() / m.sum())
    return 1.0 + (typical - 1.0) * within_run_correlation(failed, tested)


@dataclass(frozen=True)
class Enough:
    """
    Runs that would show a factor which raises the failure rate by a given ratio.

    Attributes
    ----------
    runs : int
        In all, half of them with the higher rate.
    further : int
        Beyond those logged; 0 when the log is long enough.
    rate_low, rate_high : float
        The two failure rates, whose mean is the log's own.
    ratio : float
    alpha : float
        Two-sided, shared out over the factors that were tried.
    """

    runs: int
    further: int
    rate_low: float
    rate_high: float
    ratio: float
    alpha: float


def enough_to_show(
    failed: np.ndarray, tested: np.ndarray, factors: int, ratio: float = DOUBLING
) -> Enough | None:
    """
    Work out how long a log must be to show one factor among many.

    Parameters
    ----------
    failed, tested : array of int, shape (n_runs,)
    factors : int
        Tried at once; alpha = 0.05 / factors (Bonferroni).
    ratio : float, default 2
        High rate / low rate, with half the runs at each.

    Returns
    -------
    Enough or None
        None without a single failure or without a good chip: there is no rate to double.
    """
    k, m = failed[tested > 0], tested[tested > 0]
    if not len(m) or not 0 < k.sum() < m.sum():
        return None
    rate = float(k.sum() / m.sum())
    high = min(2.0 * rate * ratio / (1.0 + ratio), LARGEST_RATE)
    low = high / ratio
    alpha = ALPHA / max(factors, 1)
    chips = 2.0 * chips_per_arm(low, high, POWER, alpha) * design_effect(k, m)
    runs = math.ceil(chips / float(m.mean()))
    return Enough(runs, max(0, runs - len(m)), low, high, ratio, alpha)
