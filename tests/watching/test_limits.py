"""Limits and scores of watching: exact laws, and simulation as the second road."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import linalg, stats

from weakstep.charts.cusum_run_lengths import cusum_survival
from weakstep.watching.columns import watched_columns
from weakstep.watching.limits import FAST, SHARES, SLOW, column_limits, head_start, share_of
from weakstep.watching.memory import memories, memory_likelihood
from weakstep.watching.scores import (
    baseline_scores,
    cut,
    furthest_score,
    sequential_scores,
    stretch_of,
    without_memory,
)
from weakstep.watching.sums import ALLOWANCES, column_sums, passes, start_of, sum_limits, sum_steps
from weakstep.watching.union import union_factor


def signals(
    values: np.ndarray,
    before: int,
    chance: float,
    *,
    normal: bool,
    memory: np.ndarray | float = 0.0,
) -> np.ndarray:
    """Return for each column of values whether any of its five sums signals behind *before*."""
    known = without_memory(values[1:before], memory, values[0])
    new = without_memory(values[before:], memory, values[before - 1])
    scores = cut(sequential_scores(known, new, normal=normal), len(known), normal=normal)
    sums = column_sums(scores, len(known), stretch_of(known, normal=normal))
    found = passes(sums, column_limits(len(new), chance)).any(axis=(0, 1))
    return np.asarray(found)


def following(memory: float, count: int, rng: np.random.Generator) -> np.ndarray:
    """Return values of variance 1, each of which goes with the one before by *memory*."""
    row = rng.normal(size=count)
    for place in range(1, count):
        row[place] = memory * row[place - 1] + np.sqrt(1.0 - memory**2) * row[place]
    return row


@pytest.mark.parametrize("normal", [True, False])
@pytest.mark.parametrize("before", [30, 120])
def test_chance_of_any_of_five_sums(before: int, normal: bool) -> None:
    """
    The other road: values drawn, scored and summed as in watching itself.

    The share that signals is as asked, whatever the length of the baseline: 3 standard errors, and
    a fifth less where scores are bounded by so short a baseline.
    """
    chance, semesters = 0.04, 3000
    values = np.random.default_rng(404).normal(5, 3, (before + 60, semesters))
    share = signals(values, before, chance, normal=normal).mean()
    error = 3.0 * np.sqrt(chance * (1.0 - chance) / semesters)
    assert 0.8 * chance - error <= share <= chance + error


@pytest.mark.parametrize(("runs", "chance"), [(40, 0.01), (110, 0.002), (300, 0.001)])
def test_limits_by_the_exact_law(runs: int, chance: float) -> None:
    """
    Slow and fast sums take 1.3 : 0.8 of the chance, by the integral equation of a single sum.

    Their parts exceed the chance by as much as they signal together, less the spread's part.
    """
    limits = column_limits(runs, chance)
    slow, fast = (
        2.0 * (1.0 - cusum_survival(runs, k, limit, head_start=head_start(k))[-1])
        for k, limit in ((SLOW, limits.slow), (FAST, limits.fast))
    )
    assert slow / fast == pytest.approx(SHARES[0] / SHARES[1], rel=0.1)
    assert chance <= slow + fast <= 1.15 * chance


@pytest.mark.parametrize(("alike", "error"), [(0.0, 0.02), (0.5, 0.06)])
def test_signals_that_come_together(alike: float, error: float) -> None:
    """
    The other road: 6000 semesters of 12 parameters drawn, and their signals counted.

    Any pair correlates as told; the errors are three standard errors of the count and of the
    factor's 128 drawn semesters.
    """
    rng = np.random.default_rng(21)

    def drawn(rows: int) -> np.ndarray:
        own, shared = rng.normal(size=(rows, 12)), rng.normal(size=(rows, 1))
        return np.asarray(np.sqrt(1.0 - alike) * own + np.sqrt(alike) * shared)

    limits = column_limits(60, 0.004)
    sums = np.stack([np.full((6000, 12), head_start(one)) for one in ALLOWANCES])
    over = np.zeros((6000, 12), dtype=bool)
    for _ in range(60):
        sums = np.maximum(0.0, sums + sum_steps(drawn(6000)))
        over |= (sums > sum_limits(limits)[:, None, None]).any(axis=0)
    counted = over.any(axis=1).mean() / (12.0 * over.mean())
    assert union_factor(drawn(2000), limits, runs=60) == pytest.approx(counted, abs=error)


def test_shares_join_to_the_whole() -> None:
    """Twenty charts at their share each join to 0.8 of 5 %."""
    assert 1 - (1 - share_of(0.05, 0.8, 20)) ** 20 == pytest.approx(0.04)


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


def test_stretched_scores_keep_the_rate_of_normal_ones() -> None:
    """E exp(t m z) is at most that of a normal z for t = 1, 2 and reaches it for one of them."""
    known = np.random.default_rng(9).normal(size=200).round()
    factor = float(stretch_of(known, normal=False))
    scores = baseline_scores(known, normal=False) * factor
    means = [np.exp(t * scores).mean() / np.exp(t * t / 2.0) for t in (1.0, 2.0, -1.0, -2.0)]
    assert factor > 1.0
    assert max(means) == pytest.approx(1.0, abs=1e-4)


def test_a_long_baseline_gives_pages_sums() -> None:
    """The other road: the plain recursion, with a billion values behind it."""
    scores = np.random.default_rng(10).normal(0.3, 1.0, 60)
    sums = column_sums(scores, 10**9, ahead=False)
    plain = np.zeros((60, 4))
    total = np.zeros(4)
    for place, z in enumerate(scores):
        step = np.array([z - SLOW, -z - SLOW, z - FAST, -z - FAST])
        total = np.maximum(0.0, total + step)
        plain[place] = total
    assert sums[:, :4] == pytest.approx(plain, abs=1e-6)


def test_a_start_is_where_the_sum_left_zero() -> None:
    """With a long baseline: the first score after the last zero of the plain sum."""
    scores = np.array([0.0, -1.0, 1.5, 1.5, 0.2, 1.5])
    assert start_of(scores, 10**9, 0) == 2
    assert start_of(-scores, 10**9, 1) == 2


def test_memory_is_shared_among_parameters() -> None:
    """
    Forty parameters at 0.3 tell each other; one at 0.7 among calm ones keeps its own.

    The correlation of 100 values alone has a standard error of 0.1.
    """
    rng = np.random.default_rng(12)
    like = [memory_likelihood(following(0.3, 100, rng)) for _ in range(40)]
    found = memories(like)
    assert found.mean() == pytest.approx(0.31, abs=0.05)
    assert found.std() < 0.05
    calm = [memory_likelihood(rng.normal(size=100)) for _ in range(15)]
    lone = memories([memory_likelihood(following(0.7, 100, rng)), *calm])
    assert lone[0] > 0.6
    assert lone[1:].mean() < 0.1


def test_memory_of_a_long_baseline_is_its_correlation() -> None:
    """Values that follow each other at 0.6: 20 000 of them leave nothing open."""
    series = following(0.6, 20_000, np.random.default_rng(13))
    assert memories([memory_likelihood(series)])[0] == pytest.approx(0.6, abs=0.03)


def test_memory_by_the_whole_covariance() -> None:
    """The other road: the restricted likelihood by its textbook form, matrices and all."""
    values = following(0.4, 30, np.random.default_rng(15))
    y, ones = baseline_scores(values, normal=False), np.ones((30, 1))
    logs = []
    for phi in np.linspace(-0.5, 0.9, 57):
        v = linalg.toeplitz(phi ** np.arange(30)) / (1.0 - phi * phi)
        solved = np.linalg.solve(v, ones)
        inside = (ones.T @ solved)[0, 0]
        left = y @ np.linalg.solve(v, y) - (y @ solved)[0] ** 2 / inside
        logs.append(-0.5 * (np.linalg.slogdet(v)[1] + np.log(inside) + 29.0 * np.log(left)))
    expected = np.exp(np.array(logs) - max(logs))
    assert memory_likelihood(values) == pytest.approx(expected, abs=1e-9)


def test_false_alarms_with_memory() -> None:
    """
    Ten parameters with memory 0.3, 60 semesters: signals come as rarely as asked.

    0.05 per parameter; the bound is 1.4 of it and 3 standard errors of 600 columns.
    """
    values = np.random.default_rng(14).normal(size=(160, 600))
    for place in range(1, 160):
        values[place] = 0.3 * values[place - 1] + np.sqrt(0.91) * values[place]
    columns = [
        column
        for ten in np.split(values.T, 60)
        for column in watched_columns([(False, v[:100]) for v in ten], 60, 0.4)
    ]
    memory = np.array([column.memory for column in columns])
    alarms = 0
    for normal in (True, False):
        some = np.array([column.normal == normal for column in columns])
        found = signals(values[:, some], 100, 0.05, normal=normal, memory=memory[some])
        alarms += int(found.sum())
    assert alarms <= 600 * 0.07 + 3 * np.sqrt(600 * 0.07 * 0.93)


def test_no_new_value_no_score() -> None:
    """Nothing comes of nothing."""
    assert len(sequential_scores([1.0, 2.0, 3.0], [], normal=True)) == 0
