"""Charts of rare failures: gaps, signals, run lengths by simulation, refusals."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.charts.rare import (
    g_chart,
    g_signal_chance,
    geometric_limits,
    geometric_quantile,
    nearly_normal_times,
    t_chart,
    t_run_length,
)
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


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda: g_chart([1.5]), ValueError, "whole counts"),
        (lambda: g_chart([0.0, 0.0]), NotEnoughError, "at least one good item"),
        (lambda: g_chart([3.0], share=1.0), ValueError, "share must lie between"),
        (lambda: t_chart([-1.0]), ValueError, "must not be negative, found -1"),
        (lambda: t_chart([0.0]), NotEnoughError, "at least one time above 0"),
        (lambda: t_chart([1.0], mean=0.0), ValueError, "mean must be above 0"),
        (lambda: t_run_length(0.0), ValueError, "ratio must be above 0"),
        (lambda: nearly_normal_times([-2.0]), ValueError, "must not be negative"),
    ],
)
def test_impossible_requests_are_refused(call, error: type[Exception], words: str) -> None:  # type: ignore[no-untyped-def]
    """Each names what was found."""
    with pytest.raises(error, match=words):
        call()
