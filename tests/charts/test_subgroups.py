"""Charts of subgroups: equal and unequal sizes, gaps, order, refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from weakstep.charts.factors import constants, range_cdf
from weakstep.charts.median_laws import median_sd, median_zones
from weakstep.charts.moving_ranges import moving_range_sigma
from weakstep.charts.subgroups import mean_range, mean_sd, median_range
from weakstep.charts.variables import individuals
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
    """A single row of numbers is refused, and what is infinite is placed."""
    with pytest.raises(ValueError, match=r"table of finite numbers or NaN, got shape \(2,\)"):
        chart_of([1.0, 2.0])
    with pytest.raises(ValueError, match=r"found -inf at place 1, 0 \(from 0\)"):
        chart_of([[1.0, 2.0], [-np.inf, 3.0]])


def test_known_mean_and_sigma_give_the_other_factors() -> None:
    """Limits are mu +- A sigma, D1 and D2 sigma, or B5 and B6 sigma, and nothing is estimated."""
    table = np.random.default_rng(6).normal(50.0, 2.0, size=(10, 7))
    seven = constants(7)
    for chart_of, low, high in ((mean_range, "D1", "D2"), (mean_sd, "B5", "B6")):
        means, spreads = chart_of(table, centre=50.0, sigma=2.0)
        assert means.limits.upper == pytest.approx(50.0 + seven.A * 2.0)
        assert means.limits.centre == 50.0
        assert spreads.limits.lower == pytest.approx(2.0 * getattr(seven, low))
        assert spreads.limits.upper == pytest.approx(2.0 * getattr(seven, high))
        assert means.limits.degrees_of_freedom == np.inf
        for nothing in (0.0, 1e-300):
            with pytest.raises(ValueError, match="sigma must be above 0"):
                chart_of(table, sigma=nothing)


def test_pooled_standard_deviation() -> None:
    """Root of the pooled variance over c4, for unequal sizes; one row is s / c4."""
    table = np.random.default_rng(7).normal(size=(5, 4))
    table[1, 3] = table[3, 2:] = NAN
    behind = np.array([3, 2, 3, 1, 3])
    pooled = np.sqrt(behind @ np.nanvar(table, axis=1, ddof=1) / 12) / constants(13).c4
    means, _ = mean_sd(table, sigma_by="pooled standard deviation")
    assert means.limits.upper[0] - means.limits.centre == pytest.approx(3 * pooled / 2)
    assert means.limits.degrees_of_freedom == 12
    assert "pooled" in means.limits.sigma_from
    with pytest.raises(ValueError, match="sigma_by must be"):
        mean_sd(table, sigma_by="range")  # type: ignore[arg-type]


def test_textbook_rule_for_unequal_sizes() -> None:
    """Limits are A3, B3 and B4 of each size times the pooled root: D. C. Montgomery's formulas."""
    table = np.random.default_rng(12).normal(74.0, 0.01, size=(25, 7))
    table[1, 3:] = table[5, 4:] = table[::3, 5:] = NAN
    sizes = (~np.isnan(table)).sum(axis=1)
    behind = sizes - 1
    root = np.sqrt(behind @ np.nanvar(table, axis=1, ddof=1) / behind.sum())
    means, spreads = mean_sd(table, sigma_by="pooled standard deviation / c4")
    centre = np.nansum(table) / sizes.sum()
    factors = [constants(int(size)) for size in sizes]
    assert means.limits.upper == pytest.approx([centre + one.A3 * root for one in factors])
    assert spreads.limits.upper == pytest.approx([one.B4 * root for one in factors])
    assert spreads.limits.lower == pytest.approx([one.B3 * root for one in factors])
    assert spreads.limits.centre == pytest.approx(root)


def test_pooled_sigma_is_without_bias() -> None:
    """Mean of 4000 pooled sigmas is 1 within 3 standard errors."""
    rng = np.random.default_rng(8)
    limits = [
        mean_sd(rng.normal(size=(3, 3)), sigma_by="pooled standard deviation")[0].limits
        for _ in range(4000)
    ]
    sigma = np.array([one.sigma for one in limits]) * np.sqrt(3)
    assert sigma.mean() == pytest.approx(1.0, abs=3 * sigma.std() / np.sqrt(4000))


@pytest.mark.parametrize("n", [3, 4])
def test_medians_by_simulation(n: int) -> None:
    """Standard deviation and chance beyond its limits of 400000 medians, 3 standard errors."""
    medians = np.median(np.random.default_rng(9).normal(size=(400_000, n)), axis=1)
    sd = median_sd(n)
    assert medians.std() == pytest.approx(sd, rel=3 * np.sqrt(0.5 / 400_000))
    hits = np.abs(medians) > 3 * sd
    exact = 2 * median_zones(n)[0]
    assert hits.mean() == pytest.approx(exact, abs=3 * np.sqrt(exact / 400_000))


@pytest.mark.parametrize("n", [1000, 1001, 100_000])
def test_medians_of_many_values(n: int) -> None:
    """The variance tends to pi / 2n, short of it by a share of less than 2 / n."""
    share = median_sd(n) ** 2 / (np.pi / (2 * n))
    assert 1.0 - 2.0 / n < share < 1.0


def test_median_chart_of_unequal_subgroups() -> None:
    """Gaps stay gaps, a smaller subgroup has wider limits, and a shifted one signals."""
    table = np.random.default_rng(10).normal(size=(20, 5))
    table[3, 2:] = table[7] = NAN
    table[11] += 4.0
    medians, ranges = median_range(table)
    assert np.isnan(medians.values[7])
    assert np.isnan(medians.limits.upper[7])
    assert medians.limits.upper[3] > medians.limits.upper[4]
    assert 11 in [signal.at for signal in medians.signals]
    assert ranges.limits.upper[0] == pytest.approx(mean_range(table)[1].limits.upper[0])


def test_moving_ranges_of_more_neighbours() -> None:
    """Without bias for spans of 2 to 6 (3 standard errors of 2000 rows); pairs as the chart."""
    values = np.random.default_rng(11).normal(size=(2000, 20))
    for span in (2, 3, 6):
        found = np.array([moving_range_sigma(row, span) for row in values])
        assert found.mean() == pytest.approx(1.0, abs=3 * found.std() / np.sqrt(2000))
    assert moving_range_sigma(values[0]) == pytest.approx(individuals(values[0])[0].limits.sigma)
    with pytest.raises(NotEnoughError, match="need 30 values"):
        moving_range_sigma(values[0], 30)
    with pytest.raises(ValueError, match="span must be a whole number"):
        moving_range_sigma(values[0], 1)
