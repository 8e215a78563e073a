"""Tails that normal scores pull in, and what they say of the spread."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import kurtosis

from weakstep.drift.scores import normal_scores
from weakstep.drift.tails import tails_pulled_in, toward_spread

RUNS = 150
NOBODY = np.zeros(RUNS, dtype=np.intp)


def tails(values: np.ndarray, strata: np.ndarray = NOBODY) -> float:
    """Tails of values whose scores are taken within the strata."""
    return tails_pulled_in(values, normal_scores(values, strata), strata)


def test_tails_are_a_difference_of_kurtoses() -> None:
    """Without values far out it is the kurtosis of the values less that of their scores (scipy)."""
    values = np.random.default_rng(1).uniform(size=RUNS) ** 2
    scores = normal_scores(values, NOBODY)
    assert tails(values) == pytest.approx(kurtosis(values) - kurtosis(scores))


def test_changed_spread_leaves_heavy_tails_in_any_order() -> None:
    """A spread that doubles halfway leaves an excess near 1.08, and re-ordering keeps it."""
    rng = np.random.default_rng(2)
    found = []
    for _ in range(200):
        values = rng.normal(size=RUNS) * np.where(np.arange(RUNS) < 75, 1.0, 2.0)
        found.append(tails(values))
        assert tails(rng.permutation(values)) == pytest.approx(found[-1])
    # 3 (1 + 16) / 2 / ((1 + 4) / 2)^2 - 3 = 1.08; scores of 150 values have an excess of -0.18.
    error = np.std(found) / np.sqrt(200)
    assert np.mean(found) == pytest.approx(1.08 + 0.18, abs=0.2 + 4 * error)


def test_ties_and_levels_of_operators_are_no_tails() -> None:
    """Three values tell nothing beyond their scores; operators six sigma apart tell nothing."""
    rng = np.random.default_rng(3)
    few = rng.choice([25.0, 30.0, 35.0], p=[0.1, 0.8, 0.1], size=RUNS)
    assert abs(tails(few)) < 0.5 * kurtosis(few)
    who = rng.integers(0, 2, RUNS).astype(np.intp)
    values = rng.normal(size=RUNS)
    assert tails(values + 6.0 * who, who) == pytest.approx(tails(values, who), abs=1e-9)


def test_one_wild_value_counts_as_one_far_out() -> None:
    """A value of 1e200 is pulled in: finite, and no more than one value far out can give."""
    values = np.random.default_rng(4).normal(size=RUNS)
    values[7] = 1e200
    assert 0.0 < tails(values) < 10.0


def test_leaning_is_a_log_likelihood_ratio() -> None:
    """Against two normal densities, where the parameters' own tails scatter little (scipy)."""
    from scipy.stats import norm

    own, error = np.array([0.0, 0.0, 0.0, 0.3, -0.1]), np.sqrt(24 / RUNS)
    changed, not_changed = norm(0.8 * error, error), norm(0.0, error)
    expected = changed.logpdf(own) - not_changed.logpdf(own)
    assert toward_spread(own, np.full(5, RUNS)) == pytest.approx(expected)


def test_leaning_is_bounded_and_says_little_where_all_tails_are_heavy() -> None:
    """One of many stands out to the bound; among widely scattered tails it hardly does."""
    alone = np.append(np.zeros(14), 50.0)
    assert toward_spread(alone, np.full(15, RUNS))[-1] == 2.7
    assert toward_spread(-alone, np.full(15, RUNS))[-1] == -1.8
    scattered = np.random.default_rng(5).uniform(0, 8, size=15)
    assert np.abs(toward_spread(scattered, np.full(15, RUNS))).max() < 0.5
