"""
Run lengths of charts of spread, by two roads each.

Percentage points of the range of five values (.001: 0.37, .025: 0.85, .975: 4.20, .999: 5.48):
E. S. Pearson and H. O. Hartley, Biometrika Tables for Statisticians, table 22, from memory.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import studentized_range

from weakstep.charts import (
    average_run_length,
    constants,
    individuals_law,
    mean_range,
    mean_sd,
    moving_range_false_alarm,
    range_cdf,
    range_quantile,
    spread_run_length,
)


@pytest.mark.parametrize(
    ("shift", "spread", "width", "reach"),
    [(0.0, 1.0, 3.0, 3.686), (0.5, 1.2, 3.0, 3.686), (1.5, 1.0, 2.7, 4.2), (0.0, 1.5, 3.4, 2.0)],
)
def test_values_with_moving_ranges_by_simulation(
    shift: float, spread: float, width: float, reach: float
) -> None:
    """Chance left after each of 40 points, 50000 charts, within 3.5 standard errors."""
    values = np.random.default_rng(101).normal(shift, spread, size=(50_000, 40))
    beyond = np.abs(values) > width
    beyond[:, 1:] |= np.abs(np.diff(values, axis=1)) > reach
    found = 1.0 - np.logical_or.accumulate(beyond, axis=1).mean(axis=0)
    law = individuals_law(shift, spread, width=width, range_limit=reach)
    exact = np.array([law.survival(point) for point in range(1, 41)])
    assert (np.abs(found - exact) < 3.5 * np.sqrt(exact * (1 - exact) / 5e4) + 1e-12).all()
    tail = law.left[-1] * law.going_on / (1 - law.going_on)
    assert law.left.sum() + tail == pytest.approx(law.average, rel=1e-8)


@pytest.mark.parametrize("shift", [0.0, 1.0])
def test_ends_between_values_and_moving_ranges(shift: float) -> None:
    """Far limits of one leave the other: the Shewhart chart, and Simpson's rule for the ranges."""
    alone = average_run_length(["beyond_limit"], shift)
    assert individuals_law(shift, range_limit=45.0).average == pytest.approx(alone, rel=1e-9)
    left = individuals_law(shift, width=40.0).survival(60)
    assert 1.0 - left == pytest.approx(moving_range_false_alarm(60), rel=1e-7)
    both = individuals_law(shift).average
    assert both < alone


@pytest.mark.parametrize(
    ("level", "printed"), [(0.001, 0.37), (0.025, 0.85), (0.975, 4.20), (0.999, 5.48)]
)
def test_percentage_points_of_the_range_of_five(level: float, printed: float) -> None:
    """To two decimals, and back."""
    found = range_quantile(level, 5)
    assert found == pytest.approx(printed, abs=5.1e-3)
    assert range_cdf([found], 5)[0] == pytest.approx(level, abs=1e-9)


def test_range_quantiles_by_scipy() -> None:
    """The studentized range with known sigma has the same points."""
    for level, n in ((0.05, 3), (0.5, 8), (0.99, 12)):
        other = studentized_range.ppf(level, n, np.inf)
        assert range_quantile(level, n) == pytest.approx(other, rel=1e-6)


@pytest.mark.parametrize("n", [2, 5, 8])
@pytest.mark.parametrize("ratio", [1.0, 1.5, 0.8])  # 30 hits and more expected in each
def test_spread_charts_by_simulation(n: int, ratio: float) -> None:
    """Share of 400000 ranges and deviations beyond their limits, within 3.5 standard errors."""
    values = ratio * np.random.default_rng(102).normal(size=(400_000, n))
    factors = constants(n)
    for statistic, found, low, high in (
        ("range", np.ptp(values, axis=1), factors.D1, factors.D2),
        ("standard deviation", values.std(axis=1, ddof=1), factors.B5, factors.B6),
    ):
        share = ((found < low) | (found > high)).mean()
        exact = 1 / spread_run_length(n, ratio, statistic=statistic)  # type: ignore[arg-type]
        assert share == pytest.approx(exact, abs=3.5 * np.sqrt(exact / 400_000) + 1e-12)


def test_run_length_is_the_false_alarm_of_the_chart() -> None:
    """One subgroup alarms with one over the average run length."""
    table = [[1.0, 2.0, 4.0, 3.0, 2.0, 5.0, 1.0]]
    for chart_of, statistic in ((mean_range, "range"), (mean_sd, "standard deviation")):
        chance = chart_of(table)[1].false_alarm
        average = spread_run_length(7, statistic=statistic)  # type: ignore[arg-type]
        assert average == pytest.approx(1 / chance, rel=1e-9)
    # Limits of a stated chance.
    low, high = (range_quantile(level, 5) for level in (0.001, 0.999))
    assert spread_run_length(5, lower=low, upper=high) == pytest.approx(500.0, rel=1e-6)
