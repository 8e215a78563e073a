"""Normal scores within strata, whitening and its inverse."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from weakstep.drift.scores import (
    normal_scores,
    pooled_strata,
    refiltered,
    stratum_variances,
    whitened,
)


def test_small_strata_are_pooled() -> None:
    """Operators with fewer than eight runs share one stratum; others keep their own."""
    codes = pooled_strata(["B"] * 3 + ["A"] * 9 + ["C"] * 8 + ["D"] * 4)
    assert codes.tolist() == [2] * 3 + [0] * 9 + [1] * 8 + [2] * 4


def test_one_stratum_stays_one() -> None:
    """Without operators everybody is in stratum 0."""
    assert pooled_strata([""] * 30).tolist() == [0] * 30


@settings(derandomize=True, deadline=None)
@given(st.lists(st.integers(-20, 20), min_size=4, max_size=40).filter(lambda v: len(set(v)) > 1))
def test_scores_are_standard_and_blind_to_rising_changes_of_scale(row: list[int]) -> None:
    """Mean 0, variance 1, and the same for any increasing function of the values."""
    values, strata = np.array(row, dtype=float), np.zeros(len(row), dtype=int)
    scores = normal_scores(values, strata)
    assert scores.mean() == pytest.approx(0, abs=1e-12)
    assert (scores**2).mean() == pytest.approx(1)
    assert np.allclose(scores, normal_scores(np.exp(values / 10), strata))


def test_scores_forget_what_strata_differ_in() -> None:
    """Adding an operator's own offset changes no score."""
    rng = np.random.default_rng(1)
    values, strata = rng.normal(size=40), np.tile([0, 1], 20)
    assert np.allclose(normal_scores(values, strata), normal_scores(values + 5 * strata, strata))


def test_stratum_of_equal_values_says_nothing() -> None:
    """Scores of an operator who always does the same are 0, with variance 0."""
    strata = np.array([0, 0, 0, 1, 1, 1])
    scores = normal_scores([4.0, 4.0, 4.0, 1.0, 2.0, 3.0], strata)
    assert scores[:3].tolist() == [0, 0, 0]
    assert stratum_variances(scores, strata) == pytest.approx([0, 1])


@pytest.mark.parametrize("phi", [0.0, 0.3, 0.8])
def test_refiltering_undoes_whitening(phi: float) -> None:
    """Whitened scores in their own order give the scores back (single precision)."""
    scores = np.random.default_rng(2).normal(size=60)
    again = refiltered(whitened(scores, phi).astype(np.float32)[:, None], phi)
    assert again[:, 0] == pytest.approx(scores, abs=1e-5)
