"""Scores of new values: exact laws, scipy and simulation as the second road."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from weakstep.watching.scores import (
    baseline_scores,
    cut,
    furthest_score,
    sequential_scores,
    steady_scores,
)


def test_sequential_scores_are_independent_normal() -> None:
    """Hawkins' scores: mean 0, variance 1, no correlation; 4 standard errors of 20 000 each."""
    values = np.random.default_rng(5).normal(40.0, 7.0, (60, 20_000))
    scores = sequential_scores(values[:40], values[40:], normal=True)
    assert abs(scores[-1].mean()) < 4 / np.sqrt(20_000)
    assert scores[-1].var() == pytest.approx(1.0, abs=4 * np.sqrt(2 / 20_000) + 0.005)
    assert abs(np.corrcoef(scores[0], scores[-1])[0, 1]) < 4 / np.sqrt(20_000)


def test_sequential_scores_by_the_t_law() -> None:
    """The first score by the exact t law of scipy; Wallace is good to 0.02 / sqrt(freedom)."""
    known = np.array([3.0, 5.0, 4.0, 6.0, 5.5, 4.2, 3.9, 5.1])
    t = (6.4 - known.mean()) / known.std(ddof=1) * np.sqrt(8 / 9)
    exact = stats.norm.ppf(stats.t.cdf(t, 7))
    found = sequential_scores(known, [6.4], normal=True)[0]
    assert found == pytest.approx(exact, abs=0.02 / np.sqrt(7))


def test_rank_scores_do_not_depend_on_the_distribution() -> None:
    """Any rising change of scale leaves them as they are."""
    rng = np.random.default_rng(6)
    before, new = rng.normal(size=40), rng.normal(size=15)
    plain = sequential_scores(before, new, normal=False)
    assert plain == pytest.approx(sequential_scores(np.exp(before), np.exp(new), normal=False))


def test_scores_of_many_columns_are_those_of_each() -> None:
    """Columns side by side, ties among them, are scored like one by one."""
    values = np.random.default_rng(7).normal(size=(50, 3)).round(1)
    for normal in (True, False):
        together = sequential_scores(values[:40], values[40:], normal=normal)
        alone = [sequential_scores(v[:40], v[40:], normal=normal) for v in values.T]
        assert together == pytest.approx(np.column_stack(alone))


def test_an_outlier_counts_as_the_furthest_score() -> None:
    """One slip of the pen neither signals alone nor teaches the chart."""
    known = np.random.default_rng(8).normal(size=100)
    scores = sequential_scores(known, [1e9, 0.0, 0.0], normal=True)
    assert cut(scores, 100, normal=True)[0] == furthest_score(100)
    assert np.abs(scores[1:]).max() < 0.5


def test_no_new_value_no_score() -> None:
    """Nothing comes of nothing."""
    assert len(sequential_scores([1.0, 2.0, 3.0], [], normal=True)) == 0


@pytest.mark.parametrize("normal", [True, False])
def test_a_baseline_scores_itself_as_it_scores_others(normal: bool) -> None:
    """Values of the baseline keep their own scores among new ones; far ones count as 5."""
    known = np.random.default_rng(18).normal(3.0, 2.0, 60)
    found = steady_scores(known, known, normal=normal)
    assert found == pytest.approx(baseline_scores(known, normal=normal))
    assert steady_scores(known, np.array([-1e9, 1e9]), normal=normal).tolist() == [-5.0, 5.0]
