"""Charts of counts: unequal sizes, clipping, overdispersion, refusals."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.charts.attributes import np_chart, p_chart
from weakstep.errors import NotEnoughError


def test_limits_follow_the_size_of_each_point() -> None:
    """Limits lie 3 binomial standard deviations of each point off the mean, cut at 0 and 1."""
    failed, tested = np.array([1, 5, 0, 30]), np.array([10, 20, 5, 85])
    chart = p_chart(failed, tested)
    sigma = np.sqrt(0.3 * 0.7 / tested)
    assert chart.limits.centre == pytest.approx(0.3)
    assert chart.limits.upper == pytest.approx(np.minimum(0.3 + 3 * sigma, 1.0))
    assert chart.limits.lower == pytest.approx(np.maximum(0.3 - 3 * sigma, 0.0))


def test_point_without_items_is_a_gap() -> None:
    """A week without tested chips leaves a hole, not a zero."""
    chart = p_chart([1, 0, 2], [10, 0, 10])
    assert np.isnan(chart.values[1])
    assert np.isnan(chart.limits.upper[1])
    assert any("left empty" in note for note in chart.notes)


@pytest.mark.parametrize(("failed", "word"), [([0, 0, 0], "passed"), ([4, 5, 6], "failed")])
def test_all_alike_shows_no_signal(failed: list[int], word: str) -> None:
    """Nothing failed, or everything: a chart with a note instead of an error."""
    chart = p_chart(failed, [4, 5, 6])
    assert chart.signals == ()
    assert chart.false_alarm == 0.0
    assert any(f"Every item {word}" in note for note in chart.notes)


def test_runs_that_fail_together_are_told_and_allowed_for() -> None:
    """Beta-binomial points are told; limits widen only where asked for, by the same factor."""
    rng = np.random.default_rng(7)
    tested = np.full(40, 50)
    failed = rng.binomial(tested, rng.beta(2, 8, size=40))
    plain, wide = p_chart(failed, tested), p_chart(failed, tested, allow_overdispersion=True)
    assert any("signals come too often" in note for note in plain.notes)
    assert any("limits were widened" in note for note in wide.notes)
    z = (failed / tested - plain.limits.centre) / (plain.limits.sigma)
    factor = np.abs(np.diff(z)).mean() / 1.1283791671
    assert wide.limits.sigma / plain.limits.sigma == pytest.approx(factor)
    assert len(wide.signals) < len(plain.signals)


def test_overdispersion_is_seldom_claimed_of_binomial_data() -> None:
    """In 400 stable binomial charts the claim comes in 5 %, within 3 standard errors."""
    rng = np.random.default_rng(8)
    tested = rng.integers(10, 60, size=(400, 25))
    claimed = [
        any("scatter" in note for note in p_chart(rng.binomial(row, 0.2), row).notes)
        for row in tested
    ]
    assert np.mean(claimed) == pytest.approx(0.05, abs=3 * np.sqrt(0.05 * 0.95 / 400))


def test_shift_in_failures_signals() -> None:
    """A share that doubles from half of the points on shows."""
    chart = p_chart([10] * 12 + [30] * 12, [100] * 24)
    assert {signal.pattern for signal in chart.signals} >= {"nine_one_side"}


def test_np_chart_is_the_p_chart_times_the_size() -> None:
    """Numbers of failures have limits n times those of shares."""
    share, number = p_chart([2, 5, 9], [20, 20, 20]), np_chart([2, 5, 9], 20)
    assert number.limits.upper == pytest.approx(20 * share.limits.upper)
    assert number.limits.centre == pytest.approx(20 * share.limits.centre)
    assert number.limits.sigma == pytest.approx(20 * share.limits.sigma)
    assert number.false_alarm == share.false_alarm


@pytest.mark.parametrize(
    ("failed", "tested", "words"),
    [
        ([3], [2], "at most tested"),
        ([1.5], [2], "whole counts"),
        ([-1], [2], "whole counts"),
        ([1, 2], [3], "rows of one length"),
    ],
)
def test_impossible_counts_are_refused(failed: list[float], tested: list[int], words: str) -> None:
    """Counts must be whole, not negative, and fit each other."""
    with pytest.raises(ValueError, match=words):
        p_chart(failed, tested)


def test_nothing_tested_is_told() -> None:
    """Without a single known outcome there is no chart."""
    with pytest.raises(NotEnoughError, match="at least one item"):
        p_chart([0, 0], [0, 0])
