"""Limits and scores of watching: exact laws, and simulation as the second road."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.charts.cusum_run_lengths import cusum_survival
from weakstep.watching.limits import (
    FAST,
    SLOW,
    column_limits,
    failure_limit,
    share_of,
    spread_scores,
)
from weakstep.watching.monitor import sums_of
from weakstep.watching.scores import memory_of, new_scores, rank_scores


@pytest.mark.parametrize("normal", [True, False])
@pytest.mark.parametrize("values", [40, 120])
def test_chance_of_any_of_five_sums(values: int, normal: bool) -> None:
    """
    The other road: scores of drawn values, semester by semester, as in watching itself.

    The share that signals is as asked: 3 standard errors, and 5 % of it for the limits' own draws.
    """
    chance, semesters = 0.03, 4000
    limits = column_limits(values, 100, chance, normal=normal)
    rng = np.random.default_rng(404)
    scores = np.array(
        [
            new_scores(v[:values], v[values:], normal=normal)
            for v in rng.normal(5, 3, (semesters, values + 100))
        ]
    ).T
    sums, alarm = np.zeros((5, semesters)), np.zeros(semesters, dtype=bool)
    allowance = np.array([SLOW, SLOW, FAST, FAST, SLOW])[:, None]
    decision = np.array([limits.slow, limits.slow, limits.fast, limits.fast, limits.spread])
    for z in scores:
        step = np.stack([z, -z, z, -z, spread_scores(z)])
        sums = np.maximum(0.0, sums + step - allowance)
        alarm |= (sums > decision[:, None]).any(axis=0)
    error = np.sqrt(chance * (1 - chance) / semesters)
    assert alarm.mean() == pytest.approx(chance, abs=3 * error + 0.05 * chance)


def test_limits_by_the_exact_law() -> None:
    """With a baseline of a million values, a sum follows the integral equation of known ones."""
    limits = column_limits(1_000_000, 120, 0.01, normal=True)
    slow = 2 * (1 - cusum_survival(120, SLOW, limits.slow)[-1])
    fast = 2 * (1 - cusum_survival(120, FAST, limits.fast)[-1])
    assert 0.01 / 3 <= slow < 0.01
    assert slow == pytest.approx(fast, rel=0.25)


def test_a_short_baseline_takes_wider_limits() -> None:
    """What 30 values leave open costs more than what 300 do."""
    short, long = (column_limits(n, 100, 0.01, normal=True) for n in (30, 300))
    assert short.slow > long.slow
    assert short.fast > long.fast


def test_shares_join_to_the_whole() -> None:
    """Twenty charts at their share each join to 0.8 of 5 %."""
    assert 1 - (1 - share_of(0.05, 0.8, 20)) ** 20 == pytest.approx(0.04)


def test_failure_limit_keeps_its_chance() -> None:
    """A baseline that hit the true rate: at most 10 % + 3 standard errors of semesters signal."""
    failed, tested = np.tile([1, 0, 0, 0, 0], 40), np.full(200, 2)
    weights = (np.log(0.18 / 0.1), np.log(0.82 / 0.9))
    limit = failure_limit(failed, tested, 0.0, weights, runs=100, chance=0.10)
    rng = np.random.default_rng(3)
    alarms = 0
    for _ in range(800):
        bad = rng.binomial(2, 0.1, 100)
        steps = bad * weights[0] + (2 - bad) * weights[1]
        alarms += bool(sums_of(steps, limit, np.zeros(100, dtype=bool)))
    assert alarms <= 80 + 3 * np.sqrt(800 * 0.1 * 0.9)


def test_rank_scores_do_not_depend_on_the_distribution() -> None:
    """Any rising change of scale leaves them as they are."""
    rng = np.random.default_rng(6)
    before, new = rng.normal(size=40), rng.normal(size=15)
    assert rank_scores(before, new) == pytest.approx(rank_scores(np.exp(before), np.exp(new)))


def test_memory_is_taken_out() -> None:
    """Values that follow each other at 0.6: scores are uncorrelated when that is allowed for."""
    rng = np.random.default_rng(12)
    noise = rng.normal(size=1500)
    series = np.empty(1500)
    series[0] = noise[0]
    for i in range(1, 1500):
        series[i] = 0.6 * series[i - 1] + 0.8 * noise[i]
    assert memory_of(series[:400]) == pytest.approx(0.6, abs=0.15)
    scores = new_scores(series[:400], series[400:], normal=True, memory=0.6)
    assert abs(np.corrcoef(scores[1:], scores[:-1])[0, 1]) < 0.1


def test_no_memory_where_none_is() -> None:
    """Independent values: allowed for in at most 16 % (one sd) + 3 standard errors of columns."""
    rng = np.random.default_rng(15)
    wrong = sum(memory_of(v) > 0 for v in rng.normal(size=(400, 100)))
    assert wrong <= 400 * 0.16 + 3 * np.sqrt(400 * 0.16 * 0.84)


def test_a_score_without_values_is_none() -> None:
    """No new value, no score."""
    assert len(new_scores([1.0, 2.0, 3.0], [], normal=True)) == 0
