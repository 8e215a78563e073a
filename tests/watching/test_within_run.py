"""What a baseline leaves open of failure rates and correlations, against general libraries."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from scipy.special import betaln

from weakstep.trials.power import nested_failures
from weakstep.watching.within_run import counts_law, open_rates


@pytest.mark.parametrize("correlation", [0.0, 0.05, 0.2])
def test_counts_by_the_laws_of_scipy(correlation: float) -> None:
    """The other road: its beta-binomial, whose parameters add up to 1 / correlation - 1."""
    found = counts_law(np.array([0.1]), 4, np.array([correlation]))[0]
    if correlation:
        strength = 1.0 / correlation - 1.0
        law = stats.betabinom(4, 0.1 * strength, 0.9 * strength)
    else:
        law = stats.binom(4, 0.1)
    assert found == pytest.approx(law.pmf(np.arange(5)), rel=1e-9)


def test_single_chips_leave_a_beta_law() -> None:
    """Without a second chip in any run the weights are those of Beta(X + 0.6, n - X + 1)."""
    failed = (np.arange(100) < 12).astype(int)
    found = open_rates(failed, np.ones(100, dtype=int))
    assert set(found.correlations) == {0.0}
    assert found.weights.sum() == pytest.approx(1.0)
    for power in (1, 5, 10):  # high rates count most, as in the chance of a signal
        mean = np.exp(betaln(12.6 + power, 89.0) - betaln(12.6, 89.0))
        # Rates below the normal score -2.5 are left out: 0.6 % of the weight.
        assert found.weights @ found.rates**power == pytest.approx(mean, rel=0.01)


def test_both_are_those_of_a_fine_grid() -> None:
    """The other road: Bayes' rule on a grid by scipy's law, for 60 runs of three chips."""
    rng = np.random.default_rng(36)
    failed = nested_failures(rng, 0.15, 3, 0.2, (60,)).astype(int)
    found = open_rates(failed, np.full(60, 3))
    rates, together = (
        axis.ravel()
        for axis in np.meshgrid(np.arange(0.001, 0.6, 0.002), np.arange(0.0025, 0.6, 0.005))
    )
    strength = 1.0 / together - 1.0
    logs = (0.6 - 1.0) * np.log(rates) - together / 0.2
    for bad, times in enumerate(np.bincount(failed, minlength=4)):
        logs += times * stats.betabinom.logpmf(bad, 3, rates * strength, (1 - rates) * strength)
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    assert found.weights @ found.rates == pytest.approx(weights @ rates, rel=0.01)
    assert found.weights @ found.rates**10 == pytest.approx(weights @ rates**10, rel=0.03)
    assert found.weights @ found.correlations == pytest.approx(weights @ together, rel=0.03)


def test_no_failure_leaves_rates_open() -> None:
    """None of 300 chips: the mean rate is about 0.6 / 300; one above 1 / 300 is not excluded."""
    found = open_rates(np.zeros(100, dtype=int), np.full(100, 3))
    assert 0.6 / 300 < found.weights @ found.rates < 1.2 / 300
    assert found.weights[found.rates > 1 / 300].sum() > 0.1


def test_a_long_baseline_tells_its_correlation() -> None:
    """4000 runs of four chips at 0.2 leave little open; 0.04 is about three standard errors."""
    rng = np.random.default_rng(34)
    failed = nested_failures(rng, 0.1, 4, 0.2, (4000,)).astype(int)
    found = open_rates(failed, np.full(4000, 4))
    assert found.weights @ found.correlations == pytest.approx(0.2, abs=0.04)
