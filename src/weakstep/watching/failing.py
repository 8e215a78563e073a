"""The failure chart of a family: two whole-number sums, and their limits by an exact chain."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.watching.within_run import counts_law, open_rates

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from weakstep.watching.within_run import OpenRates

    Floats = NDArray[np.float64]
    Counts = NDArray[np.int_]

# Odds of failing that a sum is best for, and its share of the chance: the first is for a change
# that lasts, the second for a burst.
SUMS = ((2.0, 0.85), (8.0, 0.15))
_RARE = 8.0  # chips of one kind that weigh up one of the other, from which on whole numbers will do
_FINE = 5  # a prime
_RAREST = 0.02  # rates nearer to 0 or 1 are watched by the steps of this one, whose sums are short
_HIGHEST, _NEAR = 1e6, 256
_SETTLED, _NOISE, _LOOKS_APART = 1e-4, 1e-13, 10


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


def failure_steps(rate: float, odds: float) -> tuple[int, int]:
    r"""
    Return whole numbers in about the ratio of the log likelihood ratios of higher odds.

    A failed chip is worth :math:`\ln (p_1/p_0)`, a good one
    :math:`\ln \{(1-p_1)/(1-p_0)\}`, where the odds of :math:`p_1` are *odds* times those of
    :math:`p_0`; whole numbers make the chain of the sum exact. Rates below 0.02 count as 0.02,
    those above 0.98 as 0.98.

    Parameters
    ----------
    rate : float
        :math:`p_0`, between 0 and 1.
    odds : float
        Above 1.

    Returns
    -------
    for_failed, for_good : int

    References
    ----------
    M. R. Reynolds and Z. G. Stoumbos (1999), A CUSUM chart for monitoring a proportion when
    inspecting continuously, Journal of Quality Technology 31, 87-108.

    Examples
    --------
    >>> failure_steps(0.05, 2.0), failure_steps(0.1, 2.0), failure_steps(0.1, 8.0)
    ((13, 1), (31, 5), (16, 5))
    """
    rate = min(max(rate, _RAREST), 1.0 - _RAREST)
    worse = odds * rate / (1.0 - rate + odds * rate)
    ratio = math.log(worse / rate) / math.log((1.0 - rate) / (1.0 - worse))
    fine = 1 if max(ratio, 1.0 / ratio) >= _RARE else _FINE
    larger = round(fine * max(ratio, 1.0 / ratio))
    if fine > 1 and larger % fine == 0:
        larger += 1  # with a common divisor the sum would take few values, and few limits
    return (larger, fine) if ratio > 1.0 else (fine, larger)


def failure_chance(
    rates: Floats,
    sizes: Counts,
    correlations: Floats,
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
    correlations : array, shape (n_rates,)
        Of chips within a run (beta-binomial), from 0 to below 1.
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
    >>> one = failure_chance(np.array([0.1]), np.array([1]), np.zeros(1), FailureSum(7, 1, 6), 1)
    >>> float(one[0].round(9))
    0.1
    """
    steps, lowest = _step_law(rates, sizes, correlations, charted.for_failed, charted.for_good)
    return _passed(steps, lowest, charted.limit, runs)


def _step_law(
    rates: Floats, sizes: Counts, correlations: Floats, for_failed: int, for_good: int
) -> tuple[Floats, int]:
    """Chances of each step of the sum, from minus the second value up."""
    chips, times = np.unique(sizes[sizes > 0], return_counts=True)
    most = int(chips.max())
    lowest = for_good * most
    law = np.zeros((len(rates), (for_failed + for_good) * most + 1))
    for size, share in zip(chips, times / times.sum(), strict=True):
        bad = np.arange(size + 1)
        place = lowest + for_failed * bad - for_good * (size - bad)
        law[:, place] += share * counts_law(rates, int(size), correlations)
    return law, lowest


def _passed(steps: Floats, lowest: int, limit: int, runs: int) -> Floats:
    """Chance that a sum of such steps passes the limit within so many runs."""
    from scipy.fft import irfft, next_fast_len, rfft

    steps = steps[:, : lowest + limit + 1]  # further ones pass it from anywhere
    length = next_fast_len(limit + 1 + steps.shape[1], real=True)
    turned = rfft(steps, length)
    alive = np.zeros((len(steps), limit + 1))
    alive[:, 0] = 1.0
    left, lost = np.ones(len(steps)), np.zeros(len(steps))
    look = _LOOKS_APART
    for run in range(1, runs + 1):
        moved = irfft(rfft(alive, length) * turned, length)
        at_zero = moved[:, : lowest + 1].sum(axis=1)
        alive = moved[:, lowest : lowest + limit + 1].copy()
        alive[:, 0] = at_zero
        now = alive.sum(axis=1)
        share = 1.0 - now / left
        left = now
        if run < look:
            continue
        if ((share > _NOISE) & (np.abs(share - lost) < _SETTLED * share)).all():
            left = now * (1.0 - share) ** (runs - run)  # from here on each run loses the same share
            break
        # Early on two neighbours may lose alike by chance: looks are compared that lie apart.
        look, lost = run + max(_LOOKS_APART, run // 4), share
    return np.asarray(np.maximum(0.0, 1.0 - left))  # noise of the transform may be below 0


def failure_sums(
    failed: Counts, tested: Counts, *, runs: int, chance: float
) -> tuple[FailureSum, ...]:
    """
    Choose the steps and solve the limits of a failure chart for a stated chance of a false alarm.

    The chart has two sums, best for odds of failing that grow 2 and 8 times; of the chance the
    first takes 0.85, the second 0.15. For a given failure rate and correlation of chips within a
    run a sum's chance is exact (`failure_chance`); the limit makes it right on average over the
    rates and correlations that the baseline leaves open (`watching.within_run.open_rates`).

    Parameters
    ----------
    failed, tested : array of int, shape (n_runs,)
        Of the baseline; at least one chip tested.
    runs : int
        Length of a semester.
    chance : float

    Returns
    -------
    tuple of FailureSum

    Examples
    --------
    >>> steady, burst = failure_sums(np.tile([1, 0, 0, 0, 0], 40), np.full(200, 2), runs=100,
    ...                              chance=0.01)
    >>> steady.for_failed, steady.for_good, 5 < steady.limit / steady.for_failed < 15
    (31, 5, True)
    >>> burst.for_failed, burst.for_good, 3 < burst.limit / burst.for_failed < 7
    (14, 5, True)
    """
    left_open = open_rates(failed, tested)
    rate = float(left_open.weights @ left_open.rates)
    return tuple(
        _solved(left_open, tested[tested > 0], failure_steps(rate, odds), runs, share * chance)
        for odds, share in SUMS
    )


def _solved(
    left_open: OpenRates, sizes: Counts, steps: tuple[int, int], runs: int, chance: float
) -> FailureSum:
    """Sum of these steps with the least limit whose mean chance is not above the one asked."""
    law, lowest = _step_law(left_open.rates, sizes, left_open.correlations, *steps)

    def excess(limit: int) -> float:
        signals = float(left_open.weights @ _passed(law, lowest, limit, runs))
        return math.log(max(1e-300, signals) / chance)

    return FailureSum(*steps, _least(excess, 8 * max(steps)))


def _least(excess: Callable[[int], float], guess: int) -> int:
    """Find the whole number, to 1 in 256, where a falling, nearly straight function reaches 0."""
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
