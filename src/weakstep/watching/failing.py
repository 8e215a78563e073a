"""The failure chart of a family: whole-number sums, and their limit by an exact chain."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Counts = NDArray[np.int_]

_ODDS = 2.0  # the sum is best for odds of failing that double
_RARE = 3.0  # good chips that weigh up a failed one, from which on whole numbers are fine enough
_FINE = 3
_RAREST = 0.02  # rates below are watched by the steps of this one, whose sums are short
_NODES, _FROM, _TO = 8, -2.5, 4.5  # normal scores of the failure rates that are integrated over
_HIGHEST, _NEAR = 1e6, 64
_SETTLED, _NOISE = 1e-4, 1e-13


@dataclass(frozen=True)
class FailureSum:
    """
    Steps and limit of a failure chart.

    Attributes
    ----------
    for_failed, for_good : int
        What a failed chip adds to the sum, and a good one takes from it.
    limit : int
        A sum above it signals.
    """

    for_failed: int
    for_good: int
    limit: int


def failure_steps(rate: float) -> tuple[int, int]:
    r"""
    Return whole numbers in about the ratio of the log likelihood ratios of doubled odds.

    A failed chip is worth :math:`\ln (p_1/p_0)`, a good one
    :math:`\ln \{(1-p_1)/(1-p_0)\}`, where the odds of :math:`p_1` are twice those of
    :math:`p_0`; whole numbers make the chain of the sum exact. Rates below 0.02 count as 0.02.

    Parameters
    ----------
    rate : float
        :math:`p_0`, between 0 and 1.

    Returns
    -------
    for_failed, for_good : int

    References
    ----------
    M. R. Reynolds and Z. G. Stoumbos (1999), A CUSUM chart for monitoring a proportion when
    inspecting continuously, Journal of Quality Technology 31, 87-108.

    Examples
    --------
    >>> failure_steps(0.1), failure_steps(0.03), failure_steps(0.5)
    ((6, 1), (22, 1), (2, 3))
    """
    rate = max(rate, _RAREST)
    worse = _ODDS * rate / (1.0 - rate + _ODDS * rate)
    ratio = math.log(worse / rate) / math.log((1.0 - rate) / (1.0 - worse))
    fine = 1 if ratio >= _RARE else _FINE
    return max(1, round(fine * ratio)), fine


def failure_chance(
    rates: Floats,
    sizes: Counts,
    correlation: float,
    charted: FailureSum,
    runs: int,
) -> Floats:
    """
    Chance, exact, that a failure sum signals within so many runs.

    Parameters
    ----------
    rates : array, shape (n_rates,)
        Of failure, each between 0 and 1.
    sizes : array of int, shape (n_runs,)
        Chips a run; coming runs are like these.
    correlation : float
        Of chips within a run (beta-binomial).
    charted : FailureSum
    runs : int

    Returns
    -------
    array, shape (n_rates,)

    References
    ----------
    D. Brook and D. A. Evans (1972), An approach to the probability distribution of cusum run
    length, Biometrika 59, 539-549.

    Examples
    --------
    >>> one = failure_chance(np.array([0.1]), np.array([1]), 0.0, FailureSum(7, 1, 6), 1)
    >>> float(one[0].round(9))
    0.1
    """
    from scipy.fft import irfft, next_fast_len, rfft

    steps, lowest = _step_law(rates, sizes, correlation, charted)
    limit = charted.limit
    length = next_fast_len(limit + 1 + steps.shape[1], real=True)
    turned = rfft(steps, length)
    alive = np.zeros((len(rates), limit + 1))
    alive[:, 0] = 1.0
    left, lost = np.ones(len(rates)), np.zeros(len(rates))
    for run in range(runs):
        moved = irfft(rfft(alive, length) * turned, length)
        at_zero = moved[:, : lowest + 1].sum(axis=1)
        alive = moved[:, lowest : lowest + limit + 1].copy()
        alive[:, 0] = at_zero
        now = alive.sum(axis=1)
        share = 1.0 - now / left
        settled = (share > _NOISE) & (np.abs(share - lost) < _SETTLED * share)
        left, lost = now, share
        if settled.all():  # from here on each run loses the same share
            return np.asarray(1.0 - now * (1.0 - share) ** (runs - run - 1))
    return np.asarray(1.0 - left)


def _step_law(
    rates: Floats, sizes: Counts, correlation: float, charted: FailureSum
) -> tuple[Floats, int]:
    """Chances of each step of the sum, from minus the second value up to beyond the limit."""
    chips, times = np.unique(sizes[sizes > 0], return_counts=True)
    lowest = int(charted.for_good * chips.max())
    law = np.zeros((len(rates), lowest + charted.limit + 2))
    for size, share in zip(chips, times / times.sum(), strict=True):
        bad = np.arange(size + 1)
        step = charted.for_failed * bad - charted.for_good * (size - bad)
        place = lowest + np.minimum(step, charted.limit + 1)
        np.add.at(law.T, place, share * counts_law(rates, int(size), correlation).T)
    return law, lowest


def counts_law(rates: Floats, size: int, correlation: float) -> Floats:
    """
    Chances of 0 to *size* failed chips of a run, beta-binomial.

    Parameters
    ----------
    rates : array, shape (n_rates,)
        Each between 0 and 1.
    size : int
        Chips of the run.
    correlation : float
        Of chips within it, from 0 to 1.

    Returns
    -------
    array, shape (n_rates, size + 1)

    Examples
    --------
    >>> counts_law(np.array([0.5]), 2, 0.0).round(9).tolist()
    [[0.25, 0.5, 0.25]]
    """
    from scipy.special import betaln, gammaln

    bad = np.arange(size + 1)
    ways = gammaln(size + 1) - gammaln(bad + 1) - gammaln(size - bad + 1)
    p = rates[:, None]
    if correlation <= 0.0:
        return np.asarray(np.exp(ways + bad * np.log(p) + (size - bad) * np.log1p(-p)))
    strength = (1.0 - min(correlation, 1.0 - 1e-9)) / correlation
    good, lost = (1.0 - p) * strength, p * strength
    return np.asarray(np.exp(ways + betaln(bad + lost, size - bad + good) - betaln(lost, good)))


def failure_sum(
    failed: Counts, tested: Counts, correlation: float, *, runs: int, chance: float
) -> FailureSum:
    """
    Choose the steps and solve the limit of a failure chart for a stated chance of a false alarm.

    The failure rate is integrated over what the baseline leaves open: the beta law of its counts,
    divided by the design effect, whose quantiles are the upper limits of Clopper and Pearson, so
    that even a family that never failed is not held to be safe. For a given rate the chance is
    exact (`failure_chance`).

    Parameters
    ----------
    failed, tested : array of int, shape (n_runs,)
        Of the baseline; at least one chip tested.
    correlation : float
        Of chips within a run.
    runs : int
        Length of a semester.
    chance : float

    Returns
    -------
    FailureSum

    References
    ----------
    C. J. Clopper and E. S. Pearson (1934), The use of confidence or fiducial limits illustrated in
    the case of the binomial, Biometrika 26, 404-413.

    Examples
    --------
    >>> found = failure_sum(np.tile([1, 0, 0, 0, 0], 40), np.full(200, 2), 0.0, runs=100,
    ...                     chance=0.01)
    >>> found.for_failed, found.for_good, 30 < found.limit < 90
    (6, 1, True)
    """
    from scipy.special import betaincinv, ndtr

    size = tested[tested > 0]
    typical = float((size**2).sum() / size.sum())
    effect = 1.0 + (typical - 1.0) * correlation
    lost, good = failed.sum() / effect + 1.0, (tested.sum() - failed.sum()) / effect
    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    place = (_FROM + _TO) / 2.0 + (_TO - _FROM) / 2.0 * nodes
    weights = weights * np.exp(-(place**2) / 2.0)
    rates = np.clip(betaincinv(lost, good, ndtr(place)), 1e-9, 1.0 - 1e-9)
    steps = failure_steps(float(lost / (lost + good)))

    def excess(limit: int) -> float:
        signals = failure_chance(rates, size, correlation, FailureSum(*steps, limit), runs)
        return math.log(max(1e-300, float(weights @ signals / weights.sum())) / chance)

    return FailureSum(*steps, _least(excess, 8 * max(steps)))


def _least(excess: Callable[[int], float], guess: int) -> int:
    """Find the whole number, to 1 in 64, where a falling, nearly straight function reaches 0."""
    low, above = 0, excess(0)
    high, below = guess, excess(guess)
    while below > 0.0 and high < _HIGHEST:
        low, above = high, below
        high = 2 * high
        below = excess(high)
    while high - low > max(1, high // _NEAR):
        middle = low + round((high - low) * above / (above - below)) if low else (high * 3) // 4
        middle = min(max(middle, low + 1), high - 1)
        at = excess(middle)
        if at > 0.0:
            low, above = middle, at
        else:
            high, below = middle, at
    return high
