"""Charts of subgroups: equal and unequal sizes, gaps, order, refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from weakstep.charts.factors import constants, range_cdf
from weakstep.charts.subgroups import mean_range, mean_sd
from weakstep.errors import NotEnoughError

NAN = float("nan")
BOTH = pytest.mark.parametrize("chart_of", [mean_range, mean_sd])


def test_equal_subgroups_use_the_textbook_factors() -> None:
    """Limits are mean +- A2 Rbar and D4 Rbar, or mean +- A3 sbar and B4 sbar."""
    table = np.random.default_rng(1).normal(size=(20, 4))
    four = constants(4)
    means, ranges = mean_range(table)
    mean_of_ranges = np.ptp(table, axis=1).mean()
    assert means.limits.upper == pytest.approx(table.mean() + four.A2 * mean_of_ranges)
    assert ranges.limits.upper == pytest.approx(four.D4 * mean_of_ranges)
    means, spreads = mean_sd(table)
    mean_of_spreads = table.std(axis=1, ddof=1).mean()
    assert means.limits.lower == pytest.approx(table.mean() - four.A3 * mean_of_spreads)
    assert spreads.limits.upper == pytest.approx(four.B4 * mean_of_spreads)


@BOTH
def test_unequal_subgroups_have_their_own_limits(chart_of) -> None:  # type: ignore[no-untyped-def]
    """Sigma is estimated without bias, and a smaller subgroup has wider limits; a note tells."""
    table = np.random.default_rng(2).normal(size=(4000, 6))
    table[::2, 3:] = NAN
    means, spreads = chart_of(table)
    sigma = float(means.limits.upper[0] - means.limits.centre) * np.sqrt(3) / 3
    # Relative standard error of sigma by its own degrees of freedom.
    error = 1 / np.sqrt(2 * means.limits.degrees_of_freedom)
    assert sigma == pytest.approx(1.0, abs=3 * error)
    assert means.limits.upper[0] > means.limits.upper[1]
    assert "differ in size" in spreads.notes[0]


@BOTH
def test_freedom_matches_simulation(chart_of) -> None:  # type: ignore[no-untyped-def]
    """Relative variance of sigma is 1/(2 f) within 4 standard errors of 1500 charts."""
    rng = np.random.default_rng(3)
    charts = [chart_of(rng.normal(size=(8, 4)))[0].limits for _ in range(1500)]
    sigma = np.array([limits.sigma * 2 for limits in charts])
    expected = 1 / (2 * charts[0].degrees_of_freedom)
    assert sigma.var() == pytest.approx(expected, rel=4 * np.sqrt(2 / 1500))


@BOTH
def test_gap_and_single_value(chart_of) -> None:  # type: ignore[no-untyped-def]
    """An empty subgroup is a gap; one value has a mean but no spread."""
    means, spreads = chart_of([[1.0, 2.0], [NAN, NAN], [4.0, NAN], [2.0, 3.0]])
    assert np.isnan(means.values).tolist() == [False, True, False, False]
    assert np.isnan(spreads.values).tolist() == [False, True, True, False]


@BOTH
@settings(derandomize=True, deadline=None)
@given(st.integers(0, 10_000))
def test_order_within_a_subgroup_does_not_matter(chart_of, seed: int) -> None:  # type: ignore[no-untyped-def]
    """Shuffling the values of each subgroup moves no limit."""
    rng = np.random.default_rng(seed)
    table = rng.normal(size=(6, 4))
    means, spreads = chart_of(table)
    again, again_spreads = chart_of(rng.permuted(table, axis=1))
    assert again.limits.upper == pytest.approx(means.limits.upper)
    assert again_spreads.limits.upper == pytest.approx(spreads.limits.upper)


@BOTH
def test_false_alarm_of_spreads_matches_simulation(chart_of) -> None:  # type: ignore[no-untyped-def]
    """For known sigma: chance of a spread beyond its limits, over 200000 subgroups of five."""
    table = np.random.default_rng(4).normal(size=(200_000, 5))
    five = constants(5)
    if chart_of is mean_range:
        hits = np.ptp(table, axis=1) > five.D2
    else:
        hits = table.std(axis=1, ddof=1) > five.B6
    single = chart_of(table[:1])[1].false_alarm
    assert single == pytest.approx(hits.mean(), abs=3 * np.sqrt(hits.mean() / 200_000))


def test_distribution_of_the_range_of_pairs() -> None:
    """For two values P(R <= w) = 2 Phi(w / sqrt 2) - 1."""
    from scipy.stats import norm

    width = np.linspace(0.0, 6.0, 13)
    assert range_cdf(width, 2) == pytest.approx(2 * norm.cdf(width / np.sqrt(2)) - 1, abs=1e-12)


@BOTH
def test_shifted_subgroup_signals(chart_of) -> None:  # type: ignore[no-untyped-def]
    """One subgroup far off is beyond a limit of the mean, and not of the spread."""
    table = np.random.default_rng(5).normal(size=(25, 5))
    table[12] += 4
    means, spreads = chart_of(table)
    assert 12 in [s.at for s in means.signals if s.pattern == "beyond_limit"]
    assert 12 not in [s.at for s in spreads.signals]


@BOTH
@pytest.mark.parametrize(
    ("table", "words"),
    [([[1.0], [2.0]], "2 or more values"), ([[1.0, 1.0], [3.0, 3.0]], "all values are equal")],
)
def test_too_little_is_told(chart_of, table: list[list[float]], words: str) -> None:  # type: ignore[no-untyped-def]
    """Subgroups of one, and subgroups without variation, make no chart."""
    with pytest.raises(NotEnoughError, match=words):
        chart_of(table)


@BOTH
def test_a_row_is_not_a_table(chart_of) -> None:  # type: ignore[no-untyped-def]
    """A single row of numbers is refused."""
    with pytest.raises(ValueError, match="table of finite numbers"):
        chart_of([1.0, 2.0])
