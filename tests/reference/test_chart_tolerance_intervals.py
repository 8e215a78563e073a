"""
Statistical tolerance intervals.

All printed values from memory. NIST/SEMATECH e-Handbook 7.2.6.3 (43 values, share .90, confidence
.99: one side 1.8752 by the approximation and 1.8740 by noncentral t; two sides 2.217 by Howe's).
Exact factors: ISO 16269-6, tables of normal tolerance factors, and D. B. Owen (1963), Factors for
one-sided tolerance limits, Sandia monograph SCR-607. Values needed without a distribution: S. S.
Wilks (1941), Annals of Mathematical Statistics 12, 91-96, as tabled in ISO 16269-6.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from weakstep.charts import (
    distribution_free_interval,
    tolerance_factor,
    tolerance_interval,
    tolerance_sample_size,
)
from weakstep.errors import NotEnoughError

NAN = float("nan")


def test_nist_example() -> None:
    """The three factors of the example, to the digits printed."""
    assert tolerance_factor(43, 0.90, 0.99, sides=1, method="howe") == pytest.approx(
        1.8752, abs=5.1e-5
    )
    assert tolerance_factor(43, 0.90, 0.99, sides=1) == pytest.approx(1.8740, abs=5.1e-5)
    assert tolerance_factor(43, 0.90, 0.99, method="howe") == pytest.approx(2.217, abs=5.1e-4)


@pytest.mark.parametrize(
    ("n", "share", "sure", "printed"),
    [
        (10, 0.95, 0.95, 3.393), (20, 0.95, 0.95, 2.760), (30, 0.95, 0.95, 2.555),
        (50, 0.95, 0.95, 2.382), (5, 0.95, 0.95, 5.077),
    ],
)  # fmt: skip
def test_exact_factors_of_two_sides(n: int, share: float, sure: float, printed: float) -> None:
    """To the three decimals of the table."""
    assert tolerance_factor(n, share, sure) == pytest.approx(printed, abs=5.1e-4)


@pytest.mark.parametrize(
    ("n", "share", "sure", "printed"),
    [
        (10, 0.90, 0.95, 2.355), (10, 0.95, 0.95, 2.911), (10, 0.99, 0.95, 3.981),
        (20, 0.95, 0.95, 2.396), (20, 0.99, 0.95, 3.295), (30, 0.99, 0.95, 3.064),
        (50, 0.95, 0.95, 2.065), (100, 0.95, 0.95, 1.927),
    ],
)  # fmt: skip
def test_exact_factors_of_one_side(n: int, share: float, sure: float, printed: float) -> None:
    """To the three decimals of the table."""
    assert tolerance_factor(n, share, sure, sides=1) == pytest.approx(printed, abs=5.1e-4)


@pytest.mark.parametrize(
    ("share", "sure", "two_sides", "one_side"),
    [
        (0.90, 0.90, 38, 22), (0.90, 0.95, 46, 29), (0.95, 0.90, 77, 45), (0.95, 0.95, 93, 59),
        (0.95, 0.99, 130, 90), (0.99, 0.95, 473, 299), (0.99, 0.99, 662, 459),
    ],
)  # fmt: skip
def test_values_needed(share: float, sure: float, two_sides: int, one_side: int) -> None:
    """Wilks' sample sizes, and one value less does not do."""
    assert tolerance_sample_size(share, sure) == two_sides
    assert tolerance_sample_size(share, sure, sides=1) == one_side
    assert distribution_free_interval(range(two_sides), share, sure).reached >= sure
    with pytest.raises(NotEnoughError, match=f"it needs {two_sides}"):
        distribution_free_interval(range(two_sides - 1), share, sure)


@pytest.mark.parametrize(("n", "sides"), [(4, 2), (15, 2), (15, 1)])
def test_normal_intervals_hold_their_share(n: int, sides: int) -> None:
    """Of 40000 samples, a share equal to the confidence holds 90 % (3 standard errors)."""
    from scipy.stats import norm

    values = np.random.default_rng(43).normal(size=(40_000, n))
    mean, s = values.mean(axis=1), values.std(axis=1, ddof=1)
    factor = tolerance_factor(n, 0.90, 0.95, sides=1 if sides == 1 else 2)
    held = norm.cdf(mean + factor * s)
    if sides == 2:
        held -= norm.cdf(mean - factor * s)
    assert (held >= 0.90).mean() == pytest.approx(0.95, abs=3 * np.sqrt(0.0475 / 40_000))


@pytest.mark.parametrize("side", ["both", "lower", "upper"])
def test_distribution_free_intervals_hold_their_share(side: str) -> None:
    """Uniform values: the share of 20000 samples that hold 80 % is the reached confidence."""
    values = np.random.default_rng(41).uniform(size=(20_000, 40))
    found = [distribution_free_interval(row, 0.8, 0.9, side=side) for row in values]  # type: ignore[arg-type]
    held = np.array([min(one.upper, 1.0) - max(one.lower, 0.0) for one in found])
    reached = found[0].reached
    assert reached >= 0.9
    error = np.sqrt(reached * (1 - reached) / len(values))
    assert (held >= 0.8).mean() == pytest.approx(reached, abs=3 * error)


@settings(derandomize=True, deadline=None, max_examples=30)
@given(st.integers(0, 10_000), st.floats(-100, 100), st.floats(0.01, 100))
def test_shift_and_scale_move_the_limits(seed: int, shift: float, scale: float) -> None:
    """Limits follow the values, and a gap changes nothing."""
    values = np.random.default_rng(seed).normal(size=12)
    plain = tolerance_interval(values)
    moved = tolerance_interval([*(shift + scale * values), NAN])
    assert moved.lower == pytest.approx(shift + scale * plain.lower)
    assert moved.upper == pytest.approx(shift + scale * plain.upper)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: tolerance_factor(1), "n_values must be a whole number of at least 2"),
        (lambda: tolerance_factor(10, 1.0), "coverage must lie between 0 and 1"),
        (lambda: tolerance_factor(10, 0.9, NAN), "confidence must be finite"),
        (lambda: tolerance_factor(10, sides=3), "sides must be 1 or 2"),
        (lambda: tolerance_factor(10, freedom=1e-9), r"freedom must be at least 0\.1"),
        (lambda: tolerance_factor(3, 0.9, 0.999, sides=1, method="howe"), "no factor for 3"),
        (lambda: tolerance_interval(["a", "b"]), "values must hold numbers"),
        (lambda: tolerance_interval([1.0, 2.0], side="left"), "side must be"),
        (lambda: tolerance_sample_size(1 - 1e-9), "more than 10000000 values"),
    ],
)
def test_refusals(call, words: str) -> None:  # type: ignore[no-untyped-def]
    """One sentence names the argument."""
    with pytest.raises(ValueError, match=words):
        call()
