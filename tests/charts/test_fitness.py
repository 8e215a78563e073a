"""Sentences about values that suit a chart badly."""

from __future__ import annotations

import numpy as np

from weakstep.charts.fitness import heaped_share, notes_on


def notes(values: np.ndarray) -> str:
    """All sentences about *values* on the plain scale."""
    return " ".join(notes_on(values, float(np.std(values)), on_log_scale=False))


def test_digits_heaped_on_fives_are_told() -> None:
    """Readings rounded by eye to 5 now and then exactly: told; exact readings are not."""
    exact = np.random.default_rng(1).integers(100, 200, size=80).astype(float)
    by_eye = np.where(np.arange(80) % 5 == 0, exact, 5 * np.round(exact / 5))
    assert "end in 0 or 5" in notes(by_eye)
    assert "end in 0 or 5" not in notes(exact)
    assert heaped_share(by_eye / 100) == heaped_share(by_eye)


def test_a_coarse_scale_is_no_habit() -> None:
    """A scale of fives throughout, or too few values, is not heaping."""
    assert heaped_share(np.arange(0.0, 200.0, 5.0)) == 0.0
    assert heaped_share([10.0, 15.0]) == 0.0
    assert heaped_share(np.random.default_rng(2).normal(size=50)) == 0.0


def test_heavy_tails_are_told_and_normal_values_are_not() -> None:
    """Student's t with 2 degrees of freedom is told (symmetric sample); normal values are not."""
    half = np.abs(np.random.default_rng(3).standard_t(2, size=60))
    heavy = np.ravel(np.column_stack([half, -half]))
    assert "not normally distributed" in notes(heavy)
    assert "not normally distributed" not in notes(np.random.default_rng(4).normal(size=120))


def test_chance_of_the_normality_sentence() -> None:
    """Of 400 normal series at most 8 get the sentence (5 in 1000 each: 9 or more 1 in 5000)."""
    rng = np.random.default_rng(5)
    told = sum("not normally" in notes(rng.normal(size=60)) for _ in range(400))
    assert told <= 8
