"""What holds for every chart: units, gaps, order, mirrors, and no signal where nothing varies."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from weakstep.charts import (
    NELSON,
    by_strata,
    c_chart,
    ccc_chart,
    completions,
    cusum,
    ewma,
    find_signals,
    g_chart,
    individuals,
    laney_p_chart,
    laney_u_chart,
    mean_range,
    mean_sd,
    median_range,
    monitored,
    np_chart,
    p_chart,
    staged,
    t_chart,
    u_chart,
)
from weakstep.charts.model import Chart

Charts = tuple[Chart, ...]
SUBGROUPS: dict[str, Callable[..., Charts]] = {
    "mean and range": mean_range,
    "mean and sd": mean_sd,
    "mean and pooled sd": lambda table, **known: mean_sd(
        table, sigma_by="pooled standard deviation", **known
    ),
    "median and range": median_range,
}
ROWS: dict[str, Callable[..., Charts]] = {
    "individuals": individuals,
    "individuals by the median moving range": lambda row: individuals(
        row, sigma_by="median moving range"
    ),
    "individuals by the standard deviation": lambda row: individuals(
        row, sigma_by="standard deviation"
    ),
    "monitored": lambda row: monitored(row, 12),
    "staged": lambda row: (staged(row, [10]),),
    "strata": lambda row: (by_strata(row, np.tile(["a", "b"], len(row))[: len(row)]),),
}
SEEDS = st.integers(0, 100_000)
MANY = settings(derandomize=True, deadline=None, max_examples=25)


def unequal(seed: int) -> np.ndarray:
    """Return twelve subgroups of two to five values."""
    rng = np.random.default_rng(seed)
    table = rng.normal(50.0, 3.0, size=(12, 5))
    for row, size in enumerate(rng.integers(2, 6, size=12)):
        table[row, size:] = np.nan
    return table


def spread_of(chart: Chart) -> bool:
    """Whether a chart shows spreads, which a shift leaves alone."""
    return chart.kind in ("range", "standard deviation", "moving range")


@pytest.mark.parametrize("name", SUBGROUPS)
@MANY
@given(SEEDS, st.floats(-1e4, 1e4), st.floats(1e-3, 1e3))
def test_unit_of_subgroups(name: str, seed: int, shift: float, scale: float) -> None:
    """Another unit and origin move values and limits alike, and no signal."""
    table = unequal(seed)
    for one, other in zip(
        SUBGROUPS[name](table), SUBGROUPS[name](shift + scale * table), strict=True
    ):
        origin = 0.0 if spread_of(one) else shift
        close = {"rel": 1e-7, "abs": 1e-7 * (abs(shift) + scale)}
        for before, after in (
            (one.values, other.values),
            (one.limits.upper, other.limits.upper),
            (one.limits.lower, other.limits.lower),
        ):
            assert after == pytest.approx(origin + scale * before, nan_ok=True, **close)
        assert one.signals == other.signals
        assert one.false_alarm == other.false_alarm


@pytest.mark.parametrize("name", SUBGROUPS)
@MANY
@given(SEEDS, st.integers(0, 12))
def test_order_and_gaps_of_subgroups(name: str, seed: int, place: int) -> None:
    """Order within subgroups and an empty subgroup change no limit; a mirror turns the means."""
    table = unequal(seed)
    plain = SUBGROUPS[name](table)
    shuffled = SUBGROUPS[name](np.random.default_rng(seed).permuted(table, axis=1))
    holed = SUBGROUPS[name](np.insert(table, place, np.full(5, np.nan), axis=0))
    turned = SUBGROUPS[name](-table)
    for one, other, gap, mirror in zip(plain, shuffled, holed, turned, strict=True):
        assert other.limits.upper == pytest.approx(one.limits.upper)
        assert np.delete(gap.limits.upper, place) == pytest.approx(one.limits.upper)
        assert np.isnan(gap.values[place])
        assert gap.false_alarm == pytest.approx(one.false_alarm)
        back = one.limits.upper if spread_of(one) else -one.limits.lower
        assert mirror.limits.upper == pytest.approx(back)
        assert [signal.at for signal in mirror.signals] == [signal.at for signal in one.signals]


@pytest.mark.parametrize("name", ROWS)
@MANY
@given(SEEDS, st.floats(-1e4, 1e4), st.floats(1e-3, 1e3))
def test_unit_of_single_values(name: str, seed: int, shift: float, scale: float) -> None:
    """The same for charts of single values, however sigma is found."""
    row = np.random.default_rng(seed).normal(50.0, 3.0, size=24)
    for one, other in zip(ROWS[name](row), ROWS[name](shift + scale * row), strict=True):
        origin = 0.0 if spread_of(one) else shift
        close = {"rel": 1e-6, "abs": 1e-6 * (abs(shift) + scale)}
        assert other.limits.upper == pytest.approx(origin + scale * one.limits.upper, **close)
        assert other.limits.lower == pytest.approx(origin + scale * one.limits.lower, **close)
        assert [signal.at for signal in one.signals] == [signal.at for signal in other.signals]


@MANY
@given(SEEDS, st.floats(1e-3, 1e3))
def test_unit_of_times_and_areas(seed: int, scale: float) -> None:
    """Times in another unit scale a t chart, areas in another unit divide rates."""
    rng = np.random.default_rng(seed)
    times = rng.exponential(5.0, size=15)
    for shape in (1.0, 1.5):
        one, other = t_chart(times, shape=shape), t_chart(scale * times, shape=shape)
        assert other.limits.upper == pytest.approx(scale * one.limits.upper)
        assert one.signals == other.signals
    faults, area = rng.poisson(6.0, size=15), rng.uniform(1.0, 3.0, size=15)
    for chart_of in (u_chart, laney_u_chart):
        one, other = chart_of(faults, area), chart_of(faults, scale * area)
        assert other.limits.upper == pytest.approx(one.limits.upper / scale)
        assert one.signals == other.signals
    assert u_chart(faults, np.ones(15)).limits.upper == pytest.approx(c_chart(faults).limits.upper)


@MANY
@given(SEEDS, st.integers(0, 20))
def test_shares_of_failed_and_of_passed(seed: int, place: int) -> None:
    """Passed items mirror failed ones, and a point without items makes no difference."""
    rng = np.random.default_rng(seed)
    tested = rng.integers(30, 90, size=20)
    failed = rng.binomial(tested, 0.4)
    for chart_of in (p_chart, laney_p_chart):
        one, other = chart_of(failed, tested), chart_of(tested - failed, tested)
        assert other.limits.upper == pytest.approx(1.0 - one.limits.lower)
        assert [s.at for s in one.signals] == [s.at for s in other.signals]
        holed = chart_of(np.insert(failed, place, 0), np.insert(tested, place, 0))
        assert np.delete(holed.limits.upper, place) == pytest.approx(one.limits.upper)
        assert holed.false_alarm == pytest.approx(one.false_alarm)
    assert np_chart(failed % 30, 30).limits.centre == pytest.approx((failed % 30).mean())


@MANY
@given(SEEDS)
def test_items_until_and_good_items_between(seed: int) -> None:
    """A CCC chart is the g chart with one item more, to less than an item."""
    good = np.random.default_rng(seed).geometric(0.01, size=12) - 1
    counted, between = ccc_chart(good + 1), g_chart(good)
    assert counted.limits.upper[0] == pytest.approx(between.limits.upper[0] + 1, abs=1.0)
    assert counted.limits.lower[0] == pytest.approx(between.limits.lower[0], abs=1.0)
    assert [s.at for s in counted.signals] == [s.at for s in between.signals]


@MANY
@given(SEEDS, st.integers(0, 39))
def test_signals_of_a_mirror_and_across_a_gap(seed: int, place: int) -> None:
    """Turned over, a chart has the same signals; a gap only moves their places."""
    z = np.random.default_rng(seed).normal(0.4, 1.5, size=40)
    plain = find_signals(z, NELSON)
    assert find_signals(-z, NELSON) == plain
    holed = find_signals(np.insert(z, place, np.nan), NELSON)
    moved = [tuple(p + (p >= place) for p in signal.points) for signal in plain]
    assert [signal.points for signal in holed] == moved
    many = completions(np.array([z, -z, z[::-1]]), NELSON)
    for name in NELSON:
        assert (many[name][0] == completions(z, [name])[name]).all()


@pytest.mark.parametrize("level", [0.0, -3.5, 1e6])
def test_equal_points_never_signal(level: float) -> None:
    """Points on the centre line, with known limits, make no pattern at all."""
    flat, table = np.full(40, level), np.full((40, 4), level)
    known = {"centre": level, "sigma": 2.0}
    charts: list[Chart] = [
        *(chart for of in SUBGROUPS.values() for chart in of(table, **known)[:1]),
        ewma(flat, target=level, sigma=2.0, shewhart_limit=3.5),
        cusum(flat, target=level, sigma=2.0, shewhart_limit=3.5).up,
        p_chart(np.full(40, 5), np.full(40, 50)),
        c_chart(np.full(40, 9)),
        u_chart(np.full(40, 9), np.full(40, 2.0)),
    ]
    assert len(charts) == 9
    for chart in charts:
        assert chart.signals == ()
    assert find_signals(np.zeros(40), NELSON[1:4]) == ()
