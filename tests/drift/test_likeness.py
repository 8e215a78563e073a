"""Correlation of neighbours, parameters lending each other strength."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.drift.likeness import shared_likeness

RUNS = 100.0


def noise(count: int, seed: int = 6) -> np.ndarray:
    """Errors of correlations estimated from 100 values each."""
    return np.random.default_rng(seed).normal(scale=0.1, size=count)


def test_alike_parameters_lend_each_other_strength() -> None:
    """Where all correlations are equal they are estimated better together than apart."""
    alike = shared_likeness(0.3 + noise(30), np.full(30, RUNS)).expected
    assert np.abs(alike - 0.3).mean() < 0.7 * np.abs(noise(30)).mean()


def test_independent_parameters_are_taken_as_such() -> None:
    """Where nothing resembles its neighbour, chance correlations hardly count."""
    independent = shared_likeness(noise(15), np.full(15, RUNS)).expected
    assert independent.mean() < 0.02


def test_unlike_parameters_are_left_apart() -> None:
    """Half at 0, half at 0.6: neither kind is drawn to the other."""
    true = np.where(np.arange(30) % 2, 0.6, 0.0)
    found = shared_likeness(true + noise(30), np.full(30, RUNS)).expected
    assert found[true == 0.0].mean() < 0.04
    assert found[true > 0.0].mean() == pytest.approx(0.6, abs=0.05)


def test_an_unlike_parameter_is_not_pulled_far() -> None:
    """One correlated parameter among independent ones keeps all but one standard error."""
    found = shared_likeness(np.r_[0.5, np.zeros(14)], np.full(15, RUNS)).expected
    assert found[0] >= 0.4


def test_one_parameter_alone_is_judged() -> None:
    """With nothing to compare with, a clear correlation stands and a negative one is none."""
    clear, none = (
        shared_likeness(np.array([own]), np.array([RUNS])).expected[0] for own in (0.6, -0.2)
    )
    assert clear == pytest.approx(0.6, abs=0.05)
    assert none < 0.02


def test_draws_follow_the_chances() -> None:
    """Drawn correlations have the expected mean, within 4 standard errors, and repeat."""
    likeness = shared_likeness(np.array([0.0, 0.2, 0.5]), np.full(3, RUNS))
    drawn = likeness.draws(4000, seed=2)
    spread = drawn.std(axis=1) / np.sqrt(4000)
    assert (np.abs(drawn.mean(axis=1) - likeness.expected) <= 4 * spread).all()
    assert np.array_equal(drawn, likeness.draws(4000, seed=2))
    assert not np.array_equal(drawn, likeness.draws(4000, seed=3))


def test_chances_are_chances() -> None:
    """Rows sum to 1, also for correlations beyond what is thought possible."""
    likeness = shared_likeness(np.array([-1.0, 0.95, 0.3]), np.array([25.0, 900.0, 60.0]))
    assert likeness.chances.sum(axis=1) == pytest.approx(1.0)
    assert (likeness.chances >= 0.0).all()
