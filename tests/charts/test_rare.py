"""Charts of rare failures: gaps, signals, run lengths by simulation, refusals."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import gamma

from weakstep.charts.rare import (
    g_chart,
    g_signal_chance,
    geometric_limits,
    geometric_quantile,
)
from weakstep.charts.until_failures import ccc_chart, geometric_total_chart
from weakstep.charts.waiting_times import nearly_normal_times, t_chart, t_run_length
from weakstep.errors import NotEnoughError


def test_failures_close_together_signal_low() -> None:
    """Hours instead of weeks between failures: the point lies below the lower limit."""
    times = np.r_[np.linspace(20.0, 900.0, 30), 0.05]
    low = [s.at for s in t_chart(times, mean=300.0).signals if s.pattern == "beyond_limit"]
    assert low == [30]


def test_t_run_length_by_simulation() -> None:
    """With the mean time halved, points pass the limits as often as the formula says."""
    times = np.random.default_rng(2).exponential(0.5, size=400_000)
    limits = t_chart([1.0], mean=1.0, false_alarm=0.05).limits
    beyond = ((times < limits.lower[0]) | (times > limits.upper[0])).mean()
    exact = 1 / t_run_length(0.5, false_alarm=0.05)
    assert beyond == pytest.approx(exact, abs=3 * np.sqrt(exact / 400_000))


def test_g_signal_chance_by_simulation() -> None:
    """Geometric numbers pass the limits as often as the closed form says."""
    lower, upper = geometric_limits(0.02, 0.1)
    good = np.random.default_rng(3).geometric(0.03, size=400_000) - 1
    beyond = ((good < lower) | (good > upper)).mean()
    exact = g_signal_chance(0.03, lower, upper)
    assert beyond == pytest.approx(exact, abs=3 * np.sqrt(exact / 400_000))


@pytest.mark.parametrize("share", [0.9, 0.2, 0.003])
def test_geometric_quantiles_by_their_definition(share: float) -> None:
    """The quantile is the smallest number whose distribution function reaches the level."""
    for level in (0.1, 0.5, 0.9, 0.999):
        number = geometric_quantile(level, share)
        assert 1 - (1 - share) ** (number + 1) >= level - 1e-12
        assert number == 0 or 1 - (1 - share) ** number < level


def test_gaps_and_points_on_a_limit() -> None:
    """A missing number is a gap; a number on the limit is not beyond it."""
    _, upper = geometric_limits(0.1, 0.0026997960632601866)
    chart = g_chart([5.0, np.nan, upper, upper + 1], share=0.1)
    assert [signal.at for signal in chart.signals] == [3]
    assert 0.0 < chart.false_alarm < 3 * 0.0027


@pytest.mark.parametrize("failures", [1, 3])
def test_cumulative_counts_alarm_as_told(failures: int) -> None:
    """Counts up to every r-th failure pass their limits as often as the chart says (3 errors)."""
    rng = np.random.default_rng(5)
    counts = rng.negative_binomial(failures, 0.003, size=300_000) + failures
    chart = ccc_chart([float(failures + 50)], share=0.003, failures=failures, false_alarm=0.05)
    lower, upper = chart.limits.lower[0], chart.limits.upper[0]
    beyond = ((counts < lower) | (counts > upper)).mean()
    assert beyond == pytest.approx(
        chart.false_alarm, abs=3 * np.sqrt(chart.false_alarm / len(counts))
    )
    assert chart.false_alarm == pytest.approx(0.05, abs=2.5e-3)  # a count is whole
    assert chart.limits.sigma == pytest.approx(counts.std(), rel=0.02)


@pytest.mark.parametrize("failures", [1, 2, 3, 10])
@pytest.mark.parametrize("share", [1e-11, 1e-9, 1e-4])
def test_counts_of_billions_alarm_as_asked(share: float, failures: int) -> None:
    """The rarer the failures, the less it matters that counts are whole: chances are as asked."""
    known = {"share": share, "false_alarm": 0.01}
    for chart in (
        ccc_chart([100.0], failures=failures, **known),
        geometric_total_chart([30.0], failures, limits="probability", **known),
    ):
        assert chart.false_alarm == pytest.approx(0.01, rel=100 * share + 1e-6)
        upper, lower = chart.limits.upper[0] * share, chart.limits.lower[0] * share
        # Times the share, a count of rare failures is a gamma variable.
        assert (lower, upper) == pytest.approx(gamma(failures).ppf([0.005, 0.995]), rel=3e-2)


@pytest.mark.parametrize("limits", ["three sigma", "probability"])
def test_totals_alarm_as_told(limits: str) -> None:
    """Totals of four geometric counts, the same."""
    totals = np.random.default_rng(6).negative_binomial(4, 0.2, size=300_000)
    chart = geometric_total_chart([20.0], 4, share=0.2, limits=limits, false_alarm=0.02)  # type: ignore[arg-type]
    beyond = ((totals < chart.limits.lower[0]) | (totals > chart.limits.upper[0])).mean()
    exact = chart.false_alarm
    assert beyond == pytest.approx(exact, abs=3 * np.sqrt(exact / len(totals)))


@pytest.mark.parametrize(("shape", "failures"), [(1.0, 1), (1.7, 1), (0.6, 1), (1.0, 4)])
def test_waiting_times_of_other_shapes(shape: float, failures: int) -> None:
    """Weibull and gamma times: chance beyond, run length after a change, and spread."""
    rng = np.random.default_rng(7)
    size, mean = 300_000, math.gamma(1 + 1 / shape) if failures == 1 else failures
    times = rng.weibull(shape, size=size) if failures == 1 else rng.gamma(failures, size=size)
    chart = t_chart([1.0], mean=mean, shape=shape, failures=failures, false_alarm=0.04)
    lower, upper = chart.limits.lower[0], chart.limits.upper[0]
    for ratio in (1.0, 0.5):
        now = times * ratio
        beyond = ((now < lower) | (now > upper)).mean()
        exact = 1 / t_run_length(ratio, shape=shape, failures=failures, false_alarm=0.04)
        assert beyond == pytest.approx(exact, abs=3 * np.sqrt(exact / size))
    assert chart.limits.sigma == pytest.approx(times.std(), rel=0.02)
    if failures == 1:
        score = nearly_normal_times(times, shape)
        assert abs(((score - score.mean()) ** 3).mean() / score.std() ** 3) < 0.05
        # The estimated scale is the maximum-likelihood one of a known shape.
        estimated = t_chart(times[:50], shape=shape).limits
        scale = np.mean(times[:50] ** shape) ** (1 / shape)
        assert estimated.centre == pytest.approx(scale * np.log(2) ** (1 / shape))


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda: g_chart([1.5]), ValueError, "whole counts"),
        (lambda: g_chart([0.0, 0.0]), NotEnoughError, "at least one good item"),
        (lambda: g_chart([3.0], share=1.0), ValueError, "share must lie between"),
        (lambda: t_chart([-1.0]), ValueError, "must not be negative, found -1"),
        (lambda: t_chart([0.0]), NotEnoughError, "at least one time above 0"),
        (lambda: t_chart([1.0], mean=0.0), ValueError, "mean must be above 0"),
        (lambda: t_chart([1.0], shape=0.0), ValueError, "shape must be from 0.05 to 100"),
        (lambda: t_chart([1.0], shape=2.0, failures=2), ValueError, "shape must be 1"),
        (lambda: t_chart([1.0], failures=0), ValueError, "failures must be a whole number"),
        (lambda: ccc_chart([0.0]), ValueError, "at least 1, found 0"),
        (lambda: ccc_chart([1.0, 1.0]), NotEnoughError, "at least one good item"),
        (lambda: ccc_chart([2.0], share=-0.1), ValueError, "share must lie between"),
        (lambda: ccc_chart([2.0], share=1e-20), ValueError, "share must be at least 1e-12"),
        (lambda: geometric_total_chart([2.0], 0), ValueError, "n_counts must be a whole number"),
        (lambda: geometric_total_chart([-2.0], 3), ValueError, "none negative, found -2"),
        (lambda: g_signal_chance(0.1, float("nan"), 3.0), ValueError, "lower must be finite"),
        (lambda: geometric_limits(0.1, 0.0), ValueError, "false_alarm must lie between"),
        (lambda: t_run_length(0.0), ValueError, "ratio must be from 0.001 to 1000"),
        (lambda: nearly_normal_times([-2.0]), ValueError, "must not be negative"),
    ],
)
def test_impossible_requests_are_refused(call, error: type[Exception], words: str) -> None:  # type: ignore[no-untyped-def]
    """Each names what was found."""
    with pytest.raises(error, match=words):
        call()
