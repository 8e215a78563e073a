"""The failure chart: its exact chain against other roads, and the whole against its chance."""

from __future__ import annotations

from math import gcd

import numpy as np
import pytest
from scipy import stats

from weakstep.trials.power import nested_failures
from weakstep.watching.failing import (
    SUMS,
    FailureSum,
    failure_chance,
    failure_steps,
    failure_sums,
)

NONE = np.zeros(1)


@pytest.mark.parametrize("correlation", [0.0, 0.3])
def test_chance_by_simulation(correlation: float) -> None:
    """The other road: 20 000 semesters of 80 runs drawn; 4 standard errors."""
    rng = np.random.default_rng(31)
    charted = FailureSum(7, 1, 40)
    sizes = np.array([1, 2, 3, 4])
    sums, signalled = np.zeros(20_000), np.zeros(20_000, dtype=bool)
    for _ in range(80):
        chips = rng.choice(sizes, 20_000)
        bad = np.zeros(20_000)
        for size in sizes:
            some = chips == size
            drawn = nested_failures(rng, 0.1, int(size), correlation, (int(some.sum()),))
            bad[some] = drawn
        sums = np.maximum(0.0, sums + 7 * bad - (chips - bad))
        signalled |= sums > 40
    together = np.array([correlation])
    exact = failure_chance(np.array([0.1]), sizes, together, charted, 80)[0]
    error = np.sqrt(exact * (1 - exact) / 20_000)
    assert signalled.mean() == pytest.approx(exact, abs=4 * error)


def test_chance_by_counting() -> None:
    """Two runs of one chip, limit 6: only two failures pass, so the chance is a square."""
    found = failure_chance(np.array([0.2]), np.array([1]), NONE, FailureSum(4, 1, 6), 2)
    assert found[0] == pytest.approx(0.04)


@pytest.mark.parametrize("charted", [(8, 1, 64), (13, 1, 181), (9, 1, 57), (31, 5, 300)])
@pytest.mark.parametrize("runs", [20, 300])
def test_chance_by_powers_of_the_chain(charted: tuple[int, int, int], runs: int) -> None:
    """
    The other road: the whole matrix of the chain to the power of the runs.

    In the first three, two neighbouring runs early on lose the same share by chance; what follows
    does not.
    """
    up, down, limit = charted
    chain = np.zeros((limit + 2, limit + 2))
    chain[-1, -1] = 1.0
    for at in range(limit + 1):
        chain[at, min(at + up, limit + 1)] += 0.1
        chain[at, max(at - down, 0)] += 0.9
    expected = np.linalg.matrix_power(chain, runs)[0, -1]
    found = failure_chance(np.array([0.1]), np.array([1]), NONE, FailureSum(*charted), runs)
    assert found[0] == pytest.approx(expected, rel=1e-3, abs=1e-12)


def test_steps_are_in_the_ratio_of_higher_odds() -> None:
    """At 0.1 doubled odds, 2/9 for 1/9, are 2/11: ln(20/11) : ln(99/90) = 6.27, told as 31 : 5."""
    assert failure_steps(0.1, 2.0) == (31, 5)


@pytest.mark.parametrize("odds", [one for one, _ in SUMS])
def test_sums_fall_where_nothing_changed(odds: float) -> None:
    """At any rate from 0.02 to 0.98 the mean step is below 0; no divisor but 1 is common."""
    for rate in np.linspace(0.02, 0.98, 97):
        failed, good = failure_steps(rate, odds)
        assert rate * failed < (1.0 - rate) * good
        assert gcd(failed, good) == 1


def test_chances_are_right_on_average_at_each_rate() -> None:
    """
    100 runs of one chip: the exact mean chance over all baselines is within a tenth of that asked.

    Nothing is drawn: each baseline of so many failures counts as often as it comes. Both sums are
    added, so that the chance of either is below. Where 100 chips show few failures, the mean is
    below; for a rate that hardly ever shows one it is nearly 0.
    """
    runs, asked = 100, 0.002
    ones = np.ones(runs, dtype=int)
    rates = np.array([0.01, 0.05, 0.1, 0.2, 0.3])
    found = np.zeros(len(rates))
    for failed in range(int(stats.binom.ppf(1 - 1e-6, runs, 0.3)) + 1):
        charted = failure_sums(
            (np.arange(runs) < failed).astype(int), ones, runs=runs, chance=asked
        )
        chances = sum(
            failure_chance(rates, ones, np.zeros(len(rates)), one, runs) for one in charted
        )
        found += stats.binom.pmf(failed, runs, rates) * chances
    assert found[0] < 0.5 * asked
    assert found[1:] == pytest.approx(asked, rel=0.1)


def test_limits_by_a_grid_and_simulation() -> None:
    """
    The other road: rates and correlations drawn from a fine grid of Bayes' weights by scipy's law.

    40 000 semesters of 60 runs behind one baseline: each sum signals in its share of the chance
    asked, 4 standard errors and the 5 % by which a limit is rounded upwards; either does in no
    more than both shares together.
    """
    rng = np.random.default_rng(35)
    chips = rng.integers(1, 4, 60)
    failed = np.minimum(chips, rng.binomial(3, 0.3, 60) * (rng.random(60) < 0.4))
    charted = failure_sums(failed, chips, runs=60, chance=0.1)
    rates, together = (
        axis.ravel()
        for axis in np.meshgrid(np.arange(0.0025, 0.5, 0.005), np.arange(0.005, 0.6, 0.01))
    )
    logs = (0.6 - 1.0) * np.log(rates) - together / 0.2
    strength = 1.0 / together - 1.0
    for size in (1, 2, 3):
        for bad in range(size + 1):
            law = stats.betabinom.logpmf(bad, size, rates * strength, (1 - rates) * strength)
            logs += ((chips == size) & (failed == bad)).sum() * law
    weights = np.exp(logs - logs.max())
    drawn = rng.choice(len(rates), 40_000, p=weights / weights.sum())
    sums = np.zeros((len(charted), 40_000))
    over = np.zeros((len(charted), 40_000), dtype=bool)
    for _ in range(60):
        size = rng.choice(chips, 40_000)
        own = rng.beta(rates[drawn] * strength[drawn], (1 - rates[drawn]) * strength[drawn])
        bad = rng.binomial(size, own)
        for place, one in enumerate(charted):
            steps = one.for_failed * bad - one.for_good * (size - bad)
            sums[place] = np.maximum(0.0, sums[place] + steps)
            over[place] |= sums[place] > one.limit
    for place, (_, share) in enumerate(SUMS):
        asked = 0.1 * share
        error = 4 * np.sqrt(asked / 40_000)
        assert 0.95 * asked - error < over[place].mean() < asked + error
    assert over.any(axis=0).mean() < 0.1 + 4 * np.sqrt(0.1 / 40_000)


def test_a_family_that_never_failed_has_limits() -> None:
    """Nothing in 300 chips: two failures in one run do not signal, thirty do."""
    charted = failure_sums(np.zeros(100, dtype=int), np.full(100, 3), runs=100, chance=0.002)
    for one in charted:
        assert 2 * one.for_failed < one.limit < 30 * one.for_failed


def test_a_burst_is_told_sooner_by_its_own_sum() -> None:
    """Nine of ten chips fail: the second sum needs fewer failures than the first."""
    failed = np.tile([1, 0, 0, 0], 25)
    steady, burst = failure_sums(failed, np.full(100, 3), runs=100, chance=0.002)

    def failures_needed(one: FailureSum) -> float:
        return one.limit / (0.9 * one.for_failed - 0.1 * one.for_good)

    assert failures_needed(burst) < 0.75 * failures_needed(steady)
