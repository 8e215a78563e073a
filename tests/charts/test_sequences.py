"""Chances of steady and alternating rows: exact, against counting and simulation."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from weakstep.charts.patterns import completions
from weakstep.charts.sequences import sequence_run_length, sequence_survival


def test_eight_points_by_counting_all_orders() -> None:
    """Of the 40320 orders of 8 values, the share with six in a row steady, to 12 digits."""
    orders = np.array(list(permutations(range(8))), dtype=float)
    share = 1 - completions(orders, ["six_steady"])["six_steady"].any(axis=1).mean()
    assert sequence_survival(8, "six_steady")[-1] == pytest.approx(share, abs=1e-12)


def test_fourteen_alternating_is_eulers_number() -> None:
    """2 x 199360981 / 14! of all orders of 14 values alternate (OEIS A000111)."""
    exact = 2 * 199360981 / np.prod(np.arange(1.0, 15.0))
    assert 1 - sequence_survival(14, "fourteen_alternating")[-1] == pytest.approx(exact, rel=1e-10)


@pytest.mark.parametrize("name", ["six_steady", "fourteen_alternating"])
def test_chance_in_a_log_by_simulation(name: str) -> None:
    """At least one such row among 100 values, within 3 standard errors of 10000 series."""
    found = completions(np.random.default_rng(1).normal(size=(10_000, 100)), [name])[name]
    exact = 1 - sequence_survival(100, name)[-1]
    error = np.sqrt(exact * (1 - exact) / 10_000)
    assert found.any(axis=1).mean() == pytest.approx(exact, abs=3 * error)


@pytest.mark.parametrize("name", ["six_steady", "fourteen_alternating"])
def test_run_length_is_the_sum_of_survival(name: str) -> None:
    """A long sum by points gives the same average."""
    assert sequence_run_length(name) == pytest.approx(
        1 + sequence_survival(12_000, name).sum(), rel=1e-6
    )


def test_other_patterns_are_refused() -> None:
    """A pattern of zones has its own chain."""
    with pytest.raises(ValueError, match=r"run_lengths\.survival"):
        sequence_survival(5, "beyond_limit")
