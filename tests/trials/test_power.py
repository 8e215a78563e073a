"""What a trial can see: formulas against a library, claims against simulation."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.stats import chi2
from statsmodels.stats.power import TTestIndPower

from weakstep.trials.designs import from_generators
from weakstep.trials.means import mean_power, runs_for_means
from weakstep.trials.pairs import chips_in_pairs, pairs_for_rates
from weakstep.trials.power import (
    nested_failures,
    randomisation_p,
    runs_at_each_level,
    simulated_mean_power,
    simulated_power,
)
from weakstep.trials.proportions import chips_by_arcsine, chips_for_rates
from weakstep.trials.slopes import chips_for_groups, chips_for_slope


@pytest.mark.parametrize(("effect", "runs"), [(0.5, 64), (0.8, 26), (0.2, 394), (1.2, 12)])
def test_t_sizes_as_printed(effect: float, runs: int) -> None:
    """Cohen (1988), table 2.4.1, power 0.80: 64, 26 (393 and 12 there, from memory)."""
    assert runs_for_means(effect, 1.0) == runs


@pytest.mark.parametrize(("effect", "runs"), [(0.5, 20), (1.0, 8), (2.0, 4), (0.3, 100)])
def test_t_power_by_another_road(effect: float, runs: int) -> None:
    """Statsmodels gives the same power."""
    other = TTestIndPower().power(effect, runs, 0.05)
    assert mean_power(effect, 1.0, runs) == pytest.approx(other, abs=1e-9)


def test_power_of_many_runs_by_the_t_law() -> None:
    """
    The other road: 40 runs at each level in one block.

    Half a point for the other test, and 3 standard errors: of 8000 trials, and of the eight sets
    of dealings that judge them, 0.7 points each.
    """
    found = simulated_mean_power(0.65, 1.0, 40, seed=3)
    expected = mean_power(0.65, 1.0, 40)
    assert found == pytest.approx(expected, abs=0.005 + 3 * np.sqrt(0.16 / 8000 + 0.007**2 / 8))


@pytest.mark.parametrize(("runs", "blocks", "power"), [(3, 1, 0.0), (4, 1, 1.0), (5, 5, 0.0)])
def test_power_where_few_ways_to_deal_are_left(runs: int, blocks: int, power: float) -> None:
    """Of 20, 70 and 32 ways two are as extreme as can be: 10 %, 3 % and 6 % of them."""
    assert simulated_mean_power(50.0, 1.0, runs, blocks=blocks, trials=500) == power


def test_pairs_without_correlation_need_about_as_many_chips_as_two_arms() -> None:
    """Connor (1987): at correlation 0 the pairs equal the unpaired size of an arm, nearly."""
    from weakstep.failures.enough import chips_per_arm

    assert chips_in_pairs(0.4, 0.2) == pytest.approx(chips_per_arm(0.4, 0.2, 0.8, 0.05), rel=0.05)
    assert chips_in_pairs(0.4, 0.2, 0.3) < chips_in_pairs(0.4, 0.2)


def test_pair_size_by_simulation() -> None:
    """McNemar's test on simulated pairs reaches the power asked (3 standard errors + 2 points)."""
    rng = np.random.default_rng(5)
    pairs = chips_in_pairs(0.4, 0.2, 0.3)
    spread = np.sqrt(0.4 * 0.6 * 0.2 * 0.8)
    both = 0.08 + 0.3 * spread
    shares = [both, 0.4 - both, 0.2 - both, 0.4 + both]
    shares[3] = 1.0 - sum(shares[:3])
    counts = rng.multinomial(pairs, shares, size=4000)
    one, other = counts[:, 1], counts[:, 2]
    seen = np.abs(one - other) > 1.959964 * np.sqrt(np.maximum(one + other, 1))
    assert seen.mean() == pytest.approx(0.80, abs=0.02 + 3 * np.sqrt(0.16 / 4000))


def test_nested_chips_have_the_rate_and_correlation_asked() -> None:
    """Beta-binomial: mean m p, variance m p q (1 + (m - 1) rho), within 4 standard errors."""
    drawn = nested_failures(np.random.default_rng(2), 0.2, 4, 0.3, (40_000,))
    assert drawn.mean() == pytest.approx(0.8, abs=4 * drawn.std() / 200)
    assert drawn.var() == pytest.approx(4 * 0.16 * 1.9, rel=0.04)


def test_randomisation_keeps_its_level() -> None:
    """Nothing going on, blocks of very different failure rates: at most 5 % (3 standard errors)."""
    rng = np.random.default_rng(8)
    blocks = np.repeat(np.arange(6), 4)
    level = np.tile([-1.0, 1.0], 12)
    counts = rng.binomial(3, np.linspace(0.05, 0.8, 6)[blocks], (2000, 24)).astype(float)
    p = randomisation_p(counts, level, blocks, seed=1)
    assert (p <= 0.05).mean() <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / 2000)


def test_size_reaches_the_power_it_claims() -> None:
    """Another seed finds the same power within 2 points, and one block fewer is too few."""
    found = runs_at_each_level((0.35, 0.1), chips=3, correlation=0.3, step=2)
    assert found is not None
    runs, claimed = found
    settings = {"chips": 3, "correlation": 0.3}
    again = simulated_power((0.35, 0.1), runs, blocks=runs // 2, seed=99, **settings)
    assert claimed >= 0.80
    assert again == pytest.approx(claimed, abs=0.02)
    fewer = simulated_power((0.35, 0.1), runs - 2, blocks=runs // 2 - 1, **settings)
    assert fewer < 0.80


def test_claims_do_not_share_the_luck_of_one_set_of_reorderings() -> None:
    """Eight seeds of 8000 trials differ no more than such shares do (chi-square, 1 %)."""
    claims = [
        simulated_power((0.5, 0.1), 14, chips=2, correlation=0.2, blocks=7, seed=seed)
        for seed in range(8)
    ]
    own = np.mean(claims) * (1.0 - np.mean(claims)) / 8000
    assert np.var(claims, ddof=1) <= own * chi2.ppf(0.99, 7) / 7


def test_a_hopeless_question_has_no_size() -> None:
    """A fall from 3 % to 2.5 % would take more runs than anyone makes."""
    assert runs_at_each_level((0.03, 0.025), chips=2, correlation=0.2) is None


@pytest.mark.parametrize(
    "ask",
    [
        lambda: chips_for_rates(0.2, 0.2),
        lambda: chips_for_rates(0.2, 1.2),
        lambda: chips_for_rates(0.2, 0.1, power=1.0),
        lambda: chips_for_rates(0.2, 0.1, ratio=0.0),
        lambda: chips_by_arcsine(0.1, 0.1),
        lambda: pairs_for_rates(0.1, 0.1),
        lambda: chips_in_pairs(0.3, 0.3),
        lambda: chips_for_groups(0.3, 0.3),
        lambda: chips_for_slope(0.3, 0.0),
        lambda: chips_for_slope(1.0, 0.4),
        lambda: runs_for_means(0.0, 1.0),
        lambda: chips_for_slope(0.3, 0.5, explained=1.0),
        lambda: chips_for_groups(0.3, 0.5, explained=1.0),
        lambda: chips_for_groups(0.3, 0.5, 0.0),
        lambda: chips_for_groups(0.3, 0.5, 1.0),
        lambda: pairs_for_rates(0.9, 0.4),
    ],
)
def test_what_no_size_settles_is_refused(ask: Callable[[], object]) -> None:
    """Nothing to see, or no share: one sentence instead of a size."""
    with pytest.raises(ValueError, match=r"Found .*; expected .*\.$"):
        ask()


@pytest.mark.parametrize("text", ["4=-123", "4", "=12", "4=1x"])
def test_generators_that_are_none(text: str) -> None:
    """The sentence says what was found."""
    with pytest.raises(ValueError, match=f"Found generator '{text}'; expected"):
        from_generators(4, text)
    with pytest.raises(ValueError, match="expected the last 1, in order, as products"):
        from_generators(3, "4=12")
