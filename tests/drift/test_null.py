"""Re-orderings within strata, tail shares on one scale, step-down p-values."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.drift.null import orders_of, shared_orders, step_down, tail_shares

STRATA = np.array([0, 1, 0, 2, 1, 0, 2, 2])


def test_reordering_stays_within_strata() -> None:
    """Every place receives a run of its own stratum, and each run is used once."""
    orders = orders_of(shared_orders(STRATA, 50, seed=1), np.ones(8, dtype=bool), STRATA)
    assert np.array_equal(STRATA[orders], np.tile(STRATA[:, None], 50))
    assert np.array_equal(np.sort(orders, axis=0), np.tile(np.arange(8)[:, None], 50))


def test_missing_runs_drop_out_of_the_same_reordering() -> None:
    """Two parameters that lack different runs keep the order of those they share."""
    logged = np.array([True, True, True, True, False, True, True, True])
    shared = shared_orders(np.zeros(8, dtype=int), 20, seed=2)
    nobody = np.zeros(8, dtype=int)
    full = orders_of(shared, np.ones(8, dtype=bool), nobody)
    part = orders_of(shared, logged, nobody)
    runs = np.flatnonzero(logged)
    for column in range(20):
        expected = [run for run in full[:, column] if logged[run]]
        assert runs[part[:, column]].tolist() == expected


def test_orders_repeat_for_a_seed() -> None:
    """The same seed gives the same re-orderings, another seed others."""
    first, again, other = (shared_orders(STRATA, 30, seed=seed) for seed in (3, 3, 4))
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


def test_step_down_by_hand() -> None:
    """Four re-orderings, two parameters: counted by hand."""
    shares = np.array([[0.1, 0.5, 0.05, 0.3, 0.4], [0.4, 0.6, 0.9, 0.2, 0.8]])
    # First parameter: minima .5 .05 .2 .4, one reaches .1 -> 2/5. Second: .2 reaches .4 -> 2/5.
    assert step_down(shares) == pytest.approx([0.4, 0.4])


def test_step_down_p_values_keep_the_order_of_the_shares() -> None:
    """A smaller share never gets the larger p-value."""
    shares = np.random.default_rng(5).random((12, 100))
    p = step_down(shares)
    assert np.all(np.diff(p[np.argsort(shares[:, 0])]) >= 0)


def test_step_down_is_uniform_for_one_parameter() -> None:
    """With one parameter it is the ordinary permutation p-value."""
    share = np.array([[0.25, *np.linspace(0.01, 1.0, 99)]])
    assert step_down(share)[0] == pytest.approx((1 + np.sum(share[0, 1:] <= 0.25)) / 100)


def test_tail_shares_put_parameters_on_one_scale() -> None:
    """The largest of all values gets the smallest share, equal values equal shares."""
    shares = tail_shares(np.array([[5.0, 1.0], [2.0, 2.0]]))
    assert shares == pytest.approx(np.array([[0.25, 1.0], [0.75, 0.75]]))
