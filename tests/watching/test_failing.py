"""The failure chart: its exact chain against simulation, and the whole against its chance."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from weakstep.failures.enough import within_run_correlation
from weakstep.trials.power import nested_failures
from weakstep.watching.failing import (
    FailureSum,
    counts_law,
    failure_chance,
    failure_steps,
    failure_sum,
)
from weakstep.watching.within_run import safe_correlation


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
    exact = failure_chance(np.array([0.1]), sizes, correlation, charted, 80)[0]
    error = np.sqrt(exact * (1 - exact) / 20_000)
    assert signalled.mean() == pytest.approx(exact, abs=4 * error)


def test_chance_by_counting() -> None:
    """Two runs of one chip, limit 6: only two failures pass, so the chance is a square."""
    found = failure_chance(np.array([0.2]), np.array([1]), 0.0, FailureSum(4, 1, 6), 2)
    assert found[0] == pytest.approx(0.04)


def test_steps_are_in_the_ratio_of_doubled_odds() -> None:
    """At 0.1 the odds 2/9 give 2/11: ln(20/11) : ln(99/90) = 6.27, told as 6 : 1."""
    assert failure_steps(0.1) == (6, 1)


@pytest.mark.parametrize("rate", [0.04, 0.15])
def test_limit_keeps_its_chance(rate: float) -> None:
    """Baselines drawn at one rate: the mean exact chance is at most 1.5 times the one asked."""
    rng = np.random.default_rng(32)
    tested = np.full(100, 3)
    chances = []
    for _ in range(30):
        failed = rng.binomial(tested, rate)
        charted = failure_sum(failed, tested, 0.0, runs=100, chance=0.01)
        chances.append(failure_chance(np.array([rate]), tested, 0.0, charted, 100)[0])
    assert 0.001 < np.mean(chances) < 0.015 + 3 * np.std(chances) / np.sqrt(30)


def test_a_family_that_never_failed_has_a_limit() -> None:
    """Nothing in 300 chips: two failures in one run do not signal, thirty do."""
    charted = failure_sum(np.zeros(100, dtype=int), np.full(100, 3), 0.0, runs=100, chance=0.002)
    assert 2 * charted.for_failed < charted.limit < 30 * charted.for_failed


@pytest.mark.parametrize("correlation", [0.05, 0.2])
def test_counts_by_the_beta_binomial_of_scipy(correlation: float) -> None:
    """The other road: scipy's law, whose parameters have the sum 1 / correlation - 1."""
    found = counts_law(np.array([0.1]), 4, correlation)[0]
    strength = 1.0 / correlation - 1.0
    law = stats.betabinom(4, 0.1 * strength, 0.9 * strength)
    assert found == pytest.approx(law.pmf(np.arange(5)), abs=1e-6)


def test_the_correlation_allowed_for_is_on_the_safe_side() -> None:
    """
    60 baselines of 60 runs whose chips correlate at 0.2: the limits keep their chance.

    By the exact chain at the true rate and correlation: the mean chance is at most that asked, and
    less than half of what limits for the estimate of an analysis of variance have, whose few
    baselines that show no correlation signal most.
    """
    rng = np.random.default_rng(33)
    chances: dict[bool, list[float]] = {True: [], False: []}
    for _ in range(60):
        chips = rng.integers(1, 5, 60)
        failed = np.zeros(60, dtype=int)
        for size in range(1, 5):
            some = chips == size
            failed[some] = nested_failures(rng, 0.1, size, 0.2, (int(some.sum()),))
        for safe in (True, False):
            allowed = (safe_correlation if safe else within_run_correlation)(failed, chips)
            charted = failure_sum(failed, chips, allowed, runs=110, chance=0.002)
            found = failure_chance(np.array([0.1]), np.arange(1, 5), 0.2, charted, 110)
            chances[safe].append(float(found[0]))
    assert np.mean(chances[True]) <= 0.002
    assert np.mean(chances[True]) < 0.5 * np.mean(chances[False])


def test_a_long_baseline_tells_its_correlation() -> None:
    """4000 runs of four chips at 0.2 leave little open; 0.04 is about three standard errors."""
    rng = np.random.default_rng(34)
    failed = nested_failures(rng, 0.1, 4, 0.2, (4000,)).astype(int)
    assert safe_correlation(failed, np.full(4000, 4)) == pytest.approx(0.2, abs=0.04)
