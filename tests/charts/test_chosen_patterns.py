"""Charts that look for the patterns they are asked for, and tell the chance of a false alarm."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from weakstep.charts import (
    NELSON,
    WESTERN_ELECTRIC,
    alternating,
    average_run_length,
    beyond,
    c_chart,
    completions,
    false_alarm,
    find_signals,
    individuals,
    mean_range,
    mean_sd,
    median_range,
    np_chart,
    outside,
    p_chart,
    pattern_width,
    run_length_law,
    share_law,
    shewhart_width,
    steady,
    u_chart,
    within,
)
from weakstep.charts.model import Chart

RNG = np.random.default_rng(111)
ROW = RNG.normal(10.0, 2.0, size=60)
TABLE = RNG.normal(10.0, 2.0, size=(60, 4))
MEASURED: dict[str, Callable[..., tuple[Chart, Chart]]] = {
    "individuals": lambda **known: individuals(ROW, **known),
    "mean and range": lambda **known: mean_range(TABLE, **known),
    "mean and sd": lambda **known: mean_sd(TABLE, **known),
    "median and range": lambda **known: median_range(TABLE, **known),
}
FAILED, FAULTS = RNG.binomial(60, 0.3, 40), RNG.poisson(9.0, 40)
COUNTED: dict[str, Callable[..., Chart]] = {
    "p": lambda **known: p_chart(FAILED, np.full(40, 60), **known),
    "np": lambda **known: np_chart(FAILED, 60, **known),
    "c": lambda **known: c_chart(FAULTS, **known),
    "u": lambda **known: u_chart(FAULTS, np.full(40, 2.0), **known),
}


@pytest.mark.parametrize("name", MEASURED)
@pytest.mark.parametrize("patterns", [WESTERN_ELECTRIC, NELSON, [beyond(2, 2, 1.5)]])
def test_measured_values(name: str, patterns: list[str]) -> None:
    """Signals are those of the standardised points; the chance is that of so many points."""
    chart, spreads = MEASURED[name](patterns=patterns)
    limits = chart.limits
    z = 3 * (chart.values - limits.centre) / (limits.upper - limits.centre)
    assert chart.signals == find_signals(z, patterns)
    # Medians of four are not quite normal, and the chance on their chart allows for it.
    close = 0.02 if "median" in name else 1e-12
    assert chart.false_alarm == pytest.approx(false_alarm(60, patterns), abs=close)
    assert spreads.false_alarm == MEASURED[name]()[1].false_alarm


@pytest.mark.parametrize("name", COUNTED)
def test_counts(name: str) -> None:
    """More patterns alarm more often; patterns of steps are refused, as counts may be equal."""
    few, many = (COUNTED[name](patterns=p) for p in (["beyond_limit"], WESTERN_ELECTRIC))
    assert 0.0 < few.false_alarm < COUNTED[name]().false_alarm < many.false_alarm
    with pytest.raises(ValueError, match=r"no patterns of steps .* leave out six_steady"):
        COUNTED[name](patterns=NELSON)


def test_chance_on_a_chart_of_counts_by_simulation() -> None:
    """Four patterns on 4000 c charts of 30 points with a known mean, within 3 standard errors."""
    counts = np.random.default_rng(112).poisson(7.0, size=(4000, 30))
    found = completions((counts - 7.0) / np.sqrt(7.0), WESTERN_ELECTRIC)
    share = np.any([hits.any(axis=1) for hits in found.values()], axis=0).mean()
    exact = c_chart(counts[0], mean=7.0, patterns=WESTERN_ELECTRIC).false_alarm
    assert share == pytest.approx(exact, abs=3 * np.sqrt(exact * (1 - exact) / 4000))


@pytest.mark.parametrize("name", COUNTED)
def test_lines_of_ones_own_on_counts(name: str) -> None:
    """Patterns with other lines have zones of their own; the named ones give the same twice."""
    own = [beyond(1, 1, 3.0), beyond(2, 3, 2.0), beyond(4, 5, 1.0), beyond(8, 8, 0.0)]
    alike, named = (COUNTED[name](patterns=p) for p in (own, WESTERN_ELECTRIC))
    assert alike.false_alarm == pytest.approx(named.false_alarm, rel=1e-12)
    assert [signal.at for signal in alike.signals] == [signal.at for signal in named.signals]
    tight, wide = (COUNTED[name](patterns=[beyond(1, 1, line)]) for line in (1.96, 3.09))
    assert wide.false_alarm < tight.false_alarm
    assert named.kind == name


def test_lines_of_ones_own_on_counts_by_simulation() -> None:
    """Two of two beyond 1.5 sigma and eight on one side: 4000 p charts of 30 points (3 errors)."""
    own = [beyond(2, 2, 1.5), beyond(8, 8, 0.0)]
    failed = np.random.default_rng(113).binomial(50, 0.2, size=(4000, 30))
    found = completions((failed - 10.0) / np.sqrt(8.0), own)
    share = np.any([hits.any(axis=1) for hits in found.values()], axis=0).mean()
    exact = p_chart(failed[0], np.full(30, 50), share=0.2, patterns=own).false_alarm
    assert share == pytest.approx(exact, abs=3 * np.sqrt(exact * (1 - exact) / 4000))
    law = share_law(50, 0.2, names=own)
    assert 1.0 - law.survival(30) == pytest.approx(exact, rel=1e-9)


def test_equal_values_with_a_known_sigma() -> None:
    """They can be charted, on the centre line without a signal and off it with one."""
    chart, ranges = individuals(np.full(12, 5.0), centre=5.0, sigma=2.0, patterns=WESTERN_ELECTRIC)
    assert chart.signals == ranges.signals == ()
    chart, _ = individuals(np.full(12, 5.0), centre=4.0, sigma=2.0)
    assert [signal.pattern for signal in chart.signals] == ["nine_one_side"]


def test_patterns_of_ones_own_are_the_named_ones() -> None:
    """Made anew, each has the run lengths and the signals of the pattern it copies."""
    z = np.random.default_rng(114).normal(0.2, 1.3, size=400)
    for own, name in (
        (steady(6), "six_steady"),
        (alternating(14), "fourteen_alternating"),
        (within(15, 15, 1.0), "fifteen_close"),
        (outside(8, 8, 1.0), "eight_far"),
    ):
        assert average_run_length([own], 0.5) == pytest.approx(average_run_length([name], 0.5))
        assert [s.points for s in find_signals(z, [own])] == [
            s.points for s in find_signals(z, [name])
        ]


def test_seven_steady_by_all_orders() -> None:
    """Of the 5040 orders of seven values two rise or fall throughout; longer rows are rarer."""
    chance = 1.0 - run_length_law([steady(7)]).survival(7)
    assert chance == pytest.approx(2 / 5040, rel=1e-9)
    assert average_run_length([steady(7)]) > 5 * average_run_length([steady(6)])
    seven = average_run_length([beyond(7, 7, 0.0)])
    assert seven == pytest.approx(127.0)


@pytest.mark.parametrize("name", MEASURED)
def test_width_of_measured_values(name: str) -> None:
    """Limits stand where they are asked for; inner lines of patterns move with them."""
    plain, spreads = MEASURED[name](patterns=WESTERN_ELECTRIC)
    chart, kept = MEASURED[name](patterns=WESTERN_ELECTRIC, width=2.4)
    reach = (plain.limits.upper - plain.limits.centre) * 0.8
    assert chart.limits.upper == pytest.approx(chart.limits.centre + reach)
    assert kept.limits.upper == pytest.approx(spreads.limits.upper)
    z = 3 * (chart.values - chart.limits.centre) / reach
    assert chart.signals == find_signals(z, WESTERN_ELECTRIC)
    assert chart.false_alarm > plain.false_alarm
    if "median" not in name:
        own = [beyond(1, 1, 2.4), beyond(2, 3, 1.6), beyond(4, 5, 0.8), beyond(8, 8, 0.0)]
        assert chart.false_alarm == pytest.approx(false_alarm(60, own), rel=1e-9)


def test_width_that_keeps_a_promise() -> None:
    """The width solved for a chance of 5 % gives a chart with just that chance."""
    width = pattern_width(WESTERN_ELECTRIC[:3], family_wise=0.05, n_points=60)
    chart, _ = individuals(ROW, patterns=WESTERN_ELECTRIC[:3], width=width)
    assert chart.false_alarm == pytest.approx(0.05, rel=1e-5)
    assert false_alarm(60, WESTERN_ELECTRIC[:3], width=width) == chart.false_alarm
    width = shewhart_width(family_wise=0.05, n_points=60)
    assert individuals(ROW, patterns=["beyond_limit"], width=width)[0].false_alarm == (
        pytest.approx(0.05, rel=1e-9)
    )


def test_width_of_counts_by_simulation() -> None:
    """Limits at 2 sigma with two of three at 4/3: 4000 charts of 25 points (3 errors)."""
    patterns = WESTERN_ELECTRIC[:2]
    counts = np.random.default_rng(115).poisson(12.0, size=(4000, 25))
    found = completions((counts - 12.0) / np.sqrt(12.0) * 1.5, patterns)
    share = np.any([hits.any(axis=1) for hits in found.values()], axis=0).mean()
    chart = c_chart(counts[0], mean=12.0, patterns=patterns, width=2.0)
    exact = chart.false_alarm
    assert share == pytest.approx(exact, abs=3 * np.sqrt(exact * (1 - exact) / 4000))
    assert chart.limits.upper[0] == pytest.approx(12.0 + 2 * np.sqrt(12.0))
    assert u_chart(counts[0], np.ones(25), rate=12.0, patterns=patterns, width=2.0).false_alarm == (
        pytest.approx(exact)
    )
    shares = p_chart([3, 9], [40, 40], share=0.2, width=2.0)
    assert shares.limits.upper[0] == pytest.approx(0.2 + 2 * np.sqrt(0.16 / 40))
    assert np_chart([3, 9], 40, share=0.2, width=2.0).limits.upper[0] == pytest.approx(
        40 * shares.limits.upper[0]
    )
    with pytest.raises(ValueError, match=r"width must be from 0\.1 to 50"):
        c_chart([1, 2], width=0.0)
