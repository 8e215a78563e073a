"""Isolated values far out."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.drift.outliers import farthest_out


@pytest.mark.parametrize(
    "draw",
    [
        lambda rng: rng.normal(size=100),
        lambda rng: rng.standard_t(3, size=100),
        lambda rng: rng.standard_cauchy(size=100),
        lambda rng: rng.laplace(size=100),
        lambda rng: np.round(rng.normal(size=100) * 2) / 2,
    ],
    ids=["normal", "t3", "cauchy", "laplace", "rounded"],
)
def test_tails_of_their_own_do_not_set_it_off(draw) -> None:  # type: ignore[no-untyped-def]
    """At level 0.01 at most 1 % of stable series are called, within 3 standard errors of 3000."""
    rng = np.random.default_rng(11)
    called = np.mean([farthest_out(draw(rng))[1] <= 0.01 for _ in range(3000)])
    assert called <= 0.01 + 3 * np.sqrt(0.01 * 0.99 / 3000)


def test_slipped_decimal_point_is_found() -> None:
    """60 s logged as 600 s, among values that vary by 3 s."""
    values = np.random.default_rng(12).normal(60, 3, size=150)
    values[70] = 600.0
    place, p = farthest_out(values)
    assert place == 70
    assert p < 0.001


def test_few_different_values_cannot_be_judged() -> None:
    """Where the tail holds two or three different values, nothing is claimed."""
    assert farthest_out(np.r_[np.full(60, 30.0), np.full(10, 25.0), 90.0])[1] == 1.0
