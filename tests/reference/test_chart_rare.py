"""
Charts of rare failures.

D. C. Montgomery, Introduction to Statistical Quality Control: 20 times between valve failures to
the power 0.2777 (first value 4.80986, from memory; limits computed apart from this package).
J. C. Benneyan (2001), Health Care Management Science 4, 305-318: three-sigma g chart. Exponential
probability limits are arithmetic of the definition: -ln(1 - a/2) and -ln(a/2).
Cumulative counts: M. Xie, T. N. Goh and V. Kuralmani (2002), Statistical Models and Control Charts
for High-Quality Processes: 500 parts per million and a chance of .0027 give 1386 and 13212, from
memory. Totals of geometric counts: F. C. Kaminsky, J. C. Benneyan, R. D. Davis and R. J. Burke
(1992), Journal of Quality Technology 24, 63-69, their formulas.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from weakstep.charts.rare import (
    g_chart,
    g_signal_chance,
    geometric_limits,
)
from weakstep.charts.until_failures import ccc_chart, geometric_total_chart
from weakstep.charts.variables import individuals
from weakstep.charts.waiting_times import nearly_normal_times, t_chart, t_run_length

DATA = Path(__file__).parent / "data"


def valve_times() -> list[float]:
    """Hours between failures."""
    with (DATA / "montgomery_valve_time_between.csv").open(encoding="utf-8") as rows:
        return [float(row["hours_between"]) for row in csv.DictReader(rows)]


def test_valve_failures() -> None:
    """Mean 5.38662, mean moving range 2.35921, limits 11.6611 and -0.8879, no signal."""
    times = nearly_normal_times(valve_times())
    assert times[:3] == pytest.approx([4.80986, 6.70903, 5.72650], abs=6e-6)
    chart, ranges = individuals(times)
    assert chart.limits.centre == pytest.approx(5.38662, abs=6e-6)
    assert ranges.limits.centre == pytest.approx(2.35921, abs=6e-6)
    # Computed with d2 = 1.128, which widens a limit by 0.0021.
    assert chart.limits.upper[0] == pytest.approx(11.6611, abs=2.2e-3)
    assert chart.limits.lower[0] == pytest.approx(-0.8879, abs=2.2e-3)
    by_rounded = 5.38662 + 3 * 2.35921 / 1.128
    assert by_rounded == pytest.approx(11.6611, abs=6e-5)
    assert chart.signals == ()


def test_exponential_limits() -> None:
    """For a chance of 0.0027 the limits are 0.00135091 and 6.607650687 mean times."""
    chart = t_chart(valve_times(), mean=1.0, false_alarm=0.0027)
    assert chart.limits.lower[0] == pytest.approx(0.00135091, abs=5e-9)
    assert chart.limits.upper[0] == pytest.approx(6.607650687, abs=5e-10)
    assert t_run_length(false_alarm=0.0027) == pytest.approx(1 / 0.0027)


def test_three_sigma_g_chart() -> None:
    """With 1 % failures the limit is 397.5, passed with chance .99^398: every 54.6 failures."""
    chart = g_chart([99.0, 10.0], share=0.01, limits="three sigma")
    assert chart.limits.centre == pytest.approx(99.0)
    assert chart.limits.sigma == pytest.approx(99.4987, abs=5e-5)
    assert chart.limits.upper[0] == pytest.approx(397.5, abs=5e-2)
    assert chart.limits.lower[0] == 0.0
    chance = g_signal_chance(0.01, 0.0, float(chart.limits.upper[0]))
    assert chance == pytest.approx(0.018315, abs=5e-7)
    assert 1 / chance == pytest.approx(54.60, abs=5e-3)


@pytest.mark.parametrize("share", [0.3, 0.05, 0.01, 0.0004])
def test_geometric_probability_limits(share: float) -> None:
    """Beyond each limit lies at most half of the chance, and the next number would pass it."""
    lower, upper = geometric_limits(share, 0.01)
    good = 1.0 - share
    assert 1.0 - good**lower <= 0.005 < 1.0 - good ** (lower + 1)
    assert good ** (upper + 1) <= 0.005 < good**upper


def test_cumulative_count_at_500_parts_per_million() -> None:
    """Centre 1386 and upper limit 13212 items; the lower one is 2.7."""
    limits = ccc_chart([1000], share=0.0005, false_alarm=0.0027).limits
    assert round(limits.centre) == 1386
    assert round(float(limits.upper[0])) == 13212
    assert limits.lower[0] == pytest.approx(2.7, abs=0.05)


def test_totals_by_the_formulas_of_the_paper() -> None:
    """Total t, average x of n counts: t +- 3 sqrt(n x (x + 1)), and x +- 3 sqrt(x (x + 1) / n)."""
    totals, n = [38, 51, 27, 44], 10
    x = sum(totals) / 40
    total = geometric_total_chart(totals, n).limits
    assert total.centre == pytest.approx(40.0)
    assert total.upper[0] == pytest.approx(40.0 + 3 * (n * x * (x + 1)) ** 0.5)
    assert total.lower[0] == 0.0
    average = geometric_total_chart(totals, n, average=True).limits
    assert average.centre == pytest.approx(x)
    assert average.upper[0] == pytest.approx(x + 3 * (x * (x + 1) / n) ** 0.5)
    single, plain = (
        geometric_total_chart(totals, 1).limits,
        g_chart(totals, limits="three sigma").limits,
    )
    assert single.upper[0] == pytest.approx(plain.upper[0])
