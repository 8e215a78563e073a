"""Re-orderings of runs within operators."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.stats import norm, pearsonr, permutation_test

from weakstep.failures.permuting import Orders, draw_orders, score, share_reaching


def test_runs_change_places_only_within_their_stratum():
    """Every re-ordering is one, and stays within strata."""
    strata = np.array([0, 1, 0, 2, 1, 0, 2, 2, 2])
    orders = draw_orders(strata, 50, np.random.default_rng(1))
    everyone = np.repeat(np.arange(9)[:, None], 50, axis=1)
    np.testing.assert_array_equal(np.sort(orders.places, axis=0), everyone)
    np.testing.assert_array_equal(strata[orders.places], np.repeat(strata[:, None], 50, axis=1))


def test_z_is_standardised_over_all_re_orderings():
    """By listing all 3! x 4! re-orderings: mean 0, variance 1, and the observed z among them."""
    strata = np.array([0, 0, 0, 1, 1, 1, 1])
    rng = np.random.default_rng(2)
    columns, residuals = rng.normal(size=(7, 2)), rng.normal(size=7)
    places = np.array(
        [
            [*first, *second]
            for first in itertools.permutations(range(3))
            for second in itertools.permutations(range(3, 7))
        ]
    ).T
    result = score(columns, residuals, np.arange(2), np.full(2, 0.5), Orders(strata, places))
    # With one shape T = 0.9 z^2; single precision is what chance is counted in.
    np.testing.assert_allclose((result.by_chance / 0.9).mean(axis=1), 1.0, rtol=1e-5)
    np.testing.assert_allclose(result.strength, 0.9 * result.z**2)
    np.testing.assert_allclose(result.by_chance[:, 0], result.strength, rtol=1e-5)


def test_strength_weighs_all_shapes_of_a_factor():
    """T = 2 log mean of exp(0.45 z^2), its halves weighed by how likely each sign is."""
    rng = np.random.default_rng(8)
    columns, residuals = rng.normal(size=(30, 5)), rng.normal(size=30)
    positive = np.array([0.5, 0.5, 1.0, 0.8, 1.0])
    orders = draw_orders(np.zeros(30, dtype=int), 20, rng)
    told = np.array([True, False, False, True, False])
    result = score(columns, residuals, np.array([0, 0, 0, 1, 1]), positive, orders, told)
    evidence = np.exp(0.45 * result.z**2)
    above = norm.cdf(np.sqrt(0.9) * result.z)
    evidence *= 2 * (positive * above + (1 - positive) * (1 - above))
    expected = [2 * np.log(evidence[:3].mean()), 2 * np.log(evidence[3:].mean())]
    np.testing.assert_allclose(result.strength, expected)
    np.testing.assert_array_equal(result.best, [0, 3])
    again = score(columns, residuals[orders.places[:, 7]], np.array([0, 0, 0, 1, 1]), positive,
                  orders)  # fmt: skip
    np.testing.assert_allclose(result.by_chance[:, 7], again.strength, rtol=1e-4, atol=1e-4)


def test_p_value_agrees_with_scipy():
    """One stratum and one column: the permutation test of a correlation, by scipy.

    Both are exact up to 9999 re-orderings; the bound is 4 standard errors of their difference.
    """
    rng = np.random.default_rng(3)
    x = rng.normal(size=25)
    y = 0.4 * x + rng.normal(size=25)
    orders = draw_orders(np.zeros(25, dtype=int), 9999, rng)
    result = score(x[:, None], y, np.array([0]), np.array([0.5]), orders)
    ours = share_reaching(result.by_chance[0], result.strength)[0]
    theirs = permutation_test(
        (y,),
        lambda one: abs(pearsonr(x, one).statistic),
        permutation_type="pairings",
        alternative="greater",
        n_resamples=9999,
        rng=4,
    ).pvalue
    assert ours == pytest.approx(theirs, abs=4 * np.sqrt(2 * ours * (1 - ours) / 9999))


def test_one_sided_shapes_count_only_when_positive():
    """Failures that fall away from the middle are no effect of distance from it."""
    x = np.arange(30.0)
    orders = draw_orders(np.zeros(30, dtype=int), 99, np.random.default_rng(5))
    falling = score(x[:, None], -x, np.array([0]), np.array([1.0]), orders)
    assert falling.z[0] < -5
    assert falling.strength[0] < 0.0


def test_columns_that_do_not_vary_within_strata_have_no_score():
    """What only differs between operators cannot be told from who ran it."""
    strata = np.repeat([0, 1], 10)
    orders = draw_orders(strata, 99, np.random.default_rng(6))
    residuals = np.random.default_rng(7).normal(size=20) + strata
    result = score(strata[:, None] * 1.0, residuals, np.array([0]), np.array([0.5]), orders)
    assert result.strength[0] == 0.0
    assert share_reaching(result.by_chance[0], result.strength)[0] == 1.0


def test_share_reaching_counts_itself():
    """Phipson & Smyth (2010): never 0, and ties reach."""
    chance = np.array([1.0, 2.0, 3.0])
    np.testing.assert_allclose(share_reaching(chance, np.array([4.0, 3.0, 0.5])), [0.25, 0.5, 1.0])
