"""Probability limits of counts: by exact fractions, by other distributions, by simulation."""

from __future__ import annotations

from fractions import Fraction
from math import comb

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import beta, chi2

from weakstep.charts import (
    binomial_limits,
    c_chart,
    exact_c_chart,
    exact_np_chart,
    exact_p_chart,
    exact_u_chart,
    p_chart,
    poisson_limits,
)
from weakstep.errors import NotEnoughError

SIZES = st.integers(1, 120)


def by_fractions(size: int, share: Fraction, half: Fraction) -> tuple[int, int, Fraction, Fraction]:
    """Lower and upper limit and what lies beyond them, by adding up whole fractions."""
    chances = [comb(size, k) * share**k * (1 - share) ** (size - k) for k in range(size + 1)]
    lower = max(a for a in range(size + 1) if sum(chances[:a]) <= half)
    upper = min(b for b in range(size + 1) if sum(chances[b + 1 :]) <= half)
    return lower, upper, sum(chances[:lower], Fraction(0)), sum(chances[upper + 1 :], Fraction(0))


@settings(derandomize=True, deadline=None, max_examples=60)
@given(SIZES, st.integers(1, 199), st.sampled_from([1, 3, 10, 50, 200]))
def test_binomial_limits_by_exact_fractions(size: int, in_200: int, per_mille: int) -> None:
    """Sizes up to 120: the same limits and chances as without any rounding."""
    share, half = Fraction(in_200, 200), Fraction(per_mille, 2000)
    lower, upper, below, above = by_fractions(size, share, half)
    found = binomial_limits([size], float(share), false_alarm=per_mille / 1000)
    assert (found.lower[0], found.upper[0]) == (lower, upper)
    assert found.below[0] == pytest.approx(float(below), rel=1e-10, abs=1e-300)
    assert found.above[0] == pytest.approx(float(above), rel=1e-10, abs=1e-300)


def test_a_chance_that_is_just_met() -> None:
    """Two items, half of them failing: exactly a quarter lies below 1, and 1/2 allows for it."""
    found = binomial_limits([2], 0.5, false_alarm=0.5)
    assert (found.lower[0], found.upper[0]) == (1.0, 1.0)
    assert found.below[0] == found.above[0] == pytest.approx(0.25)
    less = binomial_limits([2], 0.5, false_alarm=0.4999)
    assert (less.lower[0], less.upper[0], less.below[0]) == (0.0, 2.0, 0.0)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(st.floats(0.01, 5000.0), st.floats(1e-12, 0.2))
def test_poisson_limits_by_chi_squared(mean: float, false_alarm: float) -> None:
    """A Poisson count is below k when a chi-squared of 2 k degrees is beyond twice its mean."""
    found = poisson_limits([mean], false_alarm=false_alarm)
    lower, upper = found.lower[0], found.upper[0]
    half = false_alarm / 2

    def below(count: float) -> float:
        return float(chi2.sf(2 * mean, 2 * count)) if count > 0 else 0.0

    def above(count: float) -> float:
        return float(chi2.cdf(2 * mean, 2 * (count + 1)))

    assert found.below[0] == pytest.approx(below(lower), rel=1e-8, abs=1e-300)
    assert found.above[0] == pytest.approx(above(upper), rel=1e-8, abs=1e-300)
    assert below(lower) <= half * (1 + 1e-9) < below(lower + 1) * (1 + 1e-8)
    assert above(upper) <= half * (1 + 1e-9)
    assert upper == 0 or above(upper - 1) * (1 + 1e-8) > half


def test_binomial_limits_of_many_items_by_beta() -> None:
    """A million items: chances by the beta distribution, and nearly what is asked for."""
    found = binomial_limits([1_000_000], 0.01, 0.0103, false_alarm=0.0027)
    lower, upper = found.lower[0], found.upper[0]
    assert found.below[0] == pytest.approx(beta.sf(0.0103, lower, 1_000_001 - lower), rel=1e-7)
    assert found.above[0] == pytest.approx(beta.cdf(0.0103, upper + 1, 1e6 - upper), rel=1e-7)
    stable = binomial_limits([1_000_000], 0.01, false_alarm=0.0027)
    assert 0.00265 < stable.below[0] + stable.above[0] <= 0.0027


def test_percentage_points_of_the_poisson_distribution() -> None:
    """
    Tables of the cumulative Poisson distribution, four decimals, from memory.

    Mean 4: .0183 at 0, .9972 up to 10 and .9991 up to 11. Mean 10: .9984 up to 20, .9993 up to 21.
    """
    found = poisson_limits([4.0, 10.0], false_alarm=0.002)
    assert (found.lower[0], found.below[0]) == (0.0, 0.0)  # .0183 is more than .001
    assert found.upper.tolist() == [11.0, 21.0]
    assert found.above == pytest.approx([0.0009, 0.0007], abs=5e-5)


def test_promise_and_run_length_by_simulation() -> None:
    """Signals of 400000 points are as told, before and after a change (3.5 standard errors)."""
    rng = np.random.default_rng(131)
    for now in (0.03, 0.06):
        limits = binomial_limits([80], 0.03, now, false_alarm=0.01)
        failed = rng.binomial(80, now, size=400_000)
        beyond = ((failed < limits.lower[0]) | (failed > limits.upper[0])).mean()
        told = float(limits.below[0] + limits.above[0])
        assert beyond == pytest.approx(told, abs=3.5 * np.sqrt(told / 400_000))
    assert float(binomial_limits([80], 0.03, false_alarm=0.01).above[0]) <= 0.005


def test_charts_show_the_limits_in_their_unit() -> None:
    """Shares, numbers, faults and rates; a gap keeps its place; a point on a limit is within."""
    failed, tested = np.array([3, 0, 14, 5]), np.array([50, 0, 80, 20])
    found = exact_p_chart(failed, tested, share=0.1)
    limits = binomial_limits(tested[[0, 2, 3]], 0.1)
    assert found.chart.limits.upper[[0, 2, 3]] * [50, 80, 20] == pytest.approx(limits.upper)
    assert np.isnan(found.chart.values[1])
    assert np.isnan(found.chart.limits.upper[1])
    assert "left empty" in found.chart.notes[0]
    told = 1 - np.prod(1 - limits.below - limits.above)
    assert found.chart.false_alarm == pytest.approx(told)
    _, upper, _, _ = by_fractions(50, Fraction(1, 10), Fraction(135, 100_000))
    number = exact_np_chart([9, upper, upper + 1, 5], 50, share=0.1)
    assert number.chart.limits.upper.tolist() == [upper] * 4
    assert [signal.at for signal in number.chart.signals] == [2]
    assert number.chart.limits.centre == 5.0
    assert number.chart.limits.sigma == pytest.approx(np.sqrt(4.5))
    rates = exact_u_chart([5, 8, 40], [2.0, 4.0, 4.0], rate=2.0)
    plain = poisson_limits([4.0, 8.0, 8.0])
    assert rates.chart.limits.upper * [2.0, 4.0, 4.0] == pytest.approx(plain.upper)
    assert [signal.at for signal in rates.chart.signals] == [2]
    assert exact_c_chart([5, 8], mean=4.0).chart.limits.upper[0] == plain.upper[0]
    # Estimated, the centre lines are those of the ordinary charts.
    estimated = exact_p_chart(failed, tested).chart
    assert estimated.limits.centre == p_chart(failed, tested).limits.centre
    assert exact_c_chart([3, 5]).chart.limits.centre == c_chart([3, 5]).limits.centre == 4.0


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda: exact_p_chart([0, 0], [5, 5]), NotEnoughError, "or a known share"),
        (lambda: exact_np_chart([5, 5], 5), NotEnoughError, "or a known share"),
        (lambda: exact_c_chart([0, 0]), NotEnoughError, "or a known rate"),
        (lambda: exact_c_chart([]), NotEnoughError, "or a known rate"),
        (lambda: exact_u_chart([1], [0.0], rate=1.0), NotEnoughError, "looked at"),
        (lambda: exact_p_chart([6], [5], share=0.1), ValueError, "found 6 of 5"),
        (lambda: exact_c_chart([1], mean=-1.0), ValueError, "mean must be above 0"),
        (lambda: exact_c_chart([1], false_alarm=0.0), ValueError, "false_alarm must lie between"),
        (lambda: exact_c_chart([1], mean=20.0, false_alarm=1e-20), ValueError, "at least 1e-15"),
        (lambda: binomial_limits([0], 0.1), ValueError, "tested must be from 1"),
        (lambda: poisson_limits([1.0], [1.0, 2.0]), ValueError, "a mean for each of 1 points"),
        (
            lambda: poisson_limits([1e12]),
            ValueError,
            r"means above 0 and at most 1e\+09, found 1e\+12",
        ),
        (lambda: poisson_limits([[1.0]]), ValueError, r"got shape \(1, 1\)"),
    ],
)
def test_refusals(call, error: type[Exception], words: str) -> None:  # type: ignore[no-untyped-def]
    """One sentence tells what is wrong or missing."""
    with pytest.raises(error, match=words):
        call()
