"""How long a log must be."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import f_oneway
from statsmodels.stats.proportion import power_proportions_2indep

from weakstep.failures.enough import (
    chips_per_arm,
    design_effect,
    enough_to_show,
    within_run_correlation,
)


@pytest.mark.parametrize(("one", "two"), [(0.15, 0.30), (0.10, 0.30), (0.15, 0.50), (0.10, 0.20)])
def test_statsmodels_finds_the_same_power(one, two):
    """Its power of the pooled test with our size; the far tail, which it counts, is tiny."""
    size = chips_per_arm(one, two, 0.8, 0.05)
    other = power_proportions_2indep(two - one, one, size, alpha=0.05, return_results=False)
    assert other == pytest.approx(0.8, abs=1e-4)


def test_size_gives_the_power_it_promises():
    """Simulated pooled z-test of two arms: 20,000 trials, standard error 0.003."""
    size = round(chips_per_arm(0.15, 0.30, 0.8, 0.05))
    rng = np.random.default_rng(9)
    one, two = rng.binomial(size, [[0.15], [0.30]], (2, 20_000)) / size
    middle = (one + two) / 2
    z = (two - one) / np.sqrt(2 * middle * (1 - middle) / size)
    assert (np.abs(z) > 1.959964).mean() == pytest.approx(0.8, abs=0.015)


def test_within_run_correlation_recovers_what_was_planted():
    """Beta-binomial runs with correlation 0.25; standard error about 0.02."""
    rng = np.random.default_rng(10)
    rate = rng.beta(0.3 * 3, 0.7 * 3, 2000)  # 1 / (a + b + 1) = 0.25
    tested = rng.integers(2, 5, 2000)
    failed = rng.binomial(tested, rate)
    assert within_run_correlation(failed, tested) == pytest.approx(0.25, abs=0.08)
    assert design_effect(failed, tested) > 1.3


def test_within_run_correlation_agrees_with_scipys_analysis_of_variance():
    """From the F of one-way analysis of variance on chips: (F - 1) / (F - 1 + n0)."""
    rng = np.random.default_rng(12)
    tested = rng.integers(2, 5, 60)
    failed = rng.binomial(tested, rng.beta(1.0, 2.0, 60))
    pairs = zip(failed, tested, strict=True)
    variance_ratio = f_oneway(*(np.repeat([1.0, 0.0], [k, m - k]) for k, m in pairs)).statistic
    size = (tested.sum() - (tested**2).sum() / tested.sum()) / 59
    expected = (variance_ratio - 1.0) / (variance_ratio - 1.0 + size)
    assert within_run_correlation(failed, tested) == pytest.approx(expected)


def test_single_chips_have_no_correlation():
    """And an empty log has no design effect."""
    assert within_run_correlation(np.array([1, 0, 1]), np.ones(3, dtype=int)) == 0.0
    assert design_effect(np.zeros(2, dtype=int), np.zeros(2, dtype=int)) == 1.0


def test_more_factors_need_more_runs():
    """The chance of a false claim is shared out over the factors tried."""
    rng = np.random.default_rng(11)
    tested = np.full(60, 3)
    failed = rng.binomial(tested, 0.2)
    few, many = (enough_to_show(failed, tested, factors) for factors in (1, 25))
    assert few.runs < many.runs
    assert many.further == max(0, many.runs - 60)
    assert many.rate_high == pytest.approx(2 * many.rate_low)
    assert (many.rate_high + many.rate_low) / 2 == pytest.approx(failed.sum() / tested.sum())


def test_no_rate_nothing_to_double():
    """All good or all failed."""
    tested = np.full(20, 2)
    assert enough_to_show(np.zeros(20, dtype=int), tested, 5) is None
    assert enough_to_show(tested, tested, 5) is None
