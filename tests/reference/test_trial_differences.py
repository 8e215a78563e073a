"""
Differences of two shares, against published tables and reference libraries; all from memory.

- Newcombe, R. G. (1998), Interval estimation for the difference between independent proportions:
  comparison of eleven methods, Statistics in Medicine 17, 873-890, Table II, method 10 (hybrid
  score without continuity correction) and method 6 (Miettinen and Nurminen); four decimals printed.
  The likeliest rates of method 6 are found again here by maximising the likelihood with scipy,
  because the library's `method="score"` differs from the printed table; its last row was not
  recalled with certainty and is left to a closed form.
- Newcombe, R. G. (1998), ... based on paired data, Statistics in Medicine 17, 2635-2650, method 10;
  and the airway data of Fagerland, M. W., Lydersen, S. & Laake, P. (2014), Statistics in Medicine
  33, 2850-2875: pairs 1, 1, 7, 12, three decimals printed.
- Newcombe, R. G. (1998), Statistics in Medicine 17, 857-872, Table I, exact limits.
- Hanley, J. A. & Lippman-Hand, A. (1983), JAMA 249, 1743-1745: none of 14 allows 3 in 14.
"""

from __future__ import annotations

from statistics import NormalDist

import pytest
from scipy.optimize import minimize_scalar
from scipy.stats import binom
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from weakstep.trials.differences import (
    newcombe_difference,
    paired_difference,
    plus_four_difference,
    score_difference,
)
from weakstep.trials.shares import beta_limits, exact_limits, still_possible

TABLE = [
    ((56, 70), (48, 80), 0.0524, 0.3339),
    ((9, 10), (3, 10), 0.1705, 0.8090),
    ((6, 7), (2, 7), 0.0582, 0.8062),
    ((5, 56), (0, 29), -0.0381, 0.1926),
    ((0, 10), (0, 20), -0.1611, 0.2775),
    ((0, 10), (0, 10), -0.2775, 0.2775),
    ((10, 10), (0, 20), 0.6791, 1.0000),
    ((10, 10), (0, 10), 0.6075, 1.0000),
]


@pytest.mark.parametrize(("first", "second", "lower", "upper"), TABLE)
def test_interval_as_printed(
    first: tuple[int, int], second: tuple[int, int], lower: float, upper: float
) -> None:
    """All eight rows of the table, to the four printed decimals."""
    found = newcombe_difference(first, second)
    assert found.lower == pytest.approx(lower, abs=6e-5)
    assert found.upper == pytest.approx(upper, abs=6e-5)


@pytest.mark.parametrize(("first", "second", "lower", "upper"), TABLE)
def test_interval_as_the_library_computes_it(
    first: tuple[int, int], second: tuple[int, int], lower: float, upper: float
) -> None:
    """A second road: statsmodels' own writing of the same method."""
    found = newcombe_difference(first, second)
    low, high = confint_proportions_2indep(*first, *second, method="newcomb")
    assert found.lower == pytest.approx(low, abs=1e-9)
    assert found.upper == pytest.approx(high, abs=1e-9)
    assert low == pytest.approx(lower, abs=6e-5)
    assert high == pytest.approx(upper, abs=6e-5)


SCORE_TABLE = [
    ((56, 70), (48, 80), 0.0528, 0.3382),
    ((9, 10), (3, 10), 0.1700, 0.8406),
    ((6, 7), (2, 7), 0.0342, 0.8534),
    ((5, 56), (0, 29), -0.0326, 0.1933),
    ((0, 10), (0, 20), -0.1658, 0.2844),
    ((0, 10), (0, 10), -0.2879, 0.2879),
    ((10, 10), (0, 20), 0.7156, 1.0000),
]


@pytest.mark.parametrize(("first", "second", "lower", "upper"), SCORE_TABLE)
def test_score_interval_as_printed(
    first: tuple[int, int], second: tuple[int, int], lower: float, upper: float
) -> None:
    """Miettinen and Nurminen, to the four printed decimals."""
    found = score_difference(first, second)
    assert found.lower == pytest.approx(lower, abs=6e-5)
    assert found.upper == pytest.approx(upper, abs=6e-5)


def test_score_interval_in_closed_form() -> None:
    """All 10 against none of 10: likeliest rates (1 + d) / 2 and (1 - d) / 2, lower end by hand."""
    square = NormalDist().inv_cdf(0.975) ** 2
    found = score_difference((10, 10), (0, 10))
    assert found.lower == pytest.approx((19.0 - square) / (19.0 + square), abs=1e-9)
    assert found.upper == 1.0


@pytest.mark.parametrize(("first", "second"), [((56, 70), (48, 80)), ((3, 40), (9, 25))])
@pytest.mark.parametrize("level", [0.8, 0.99])
def test_score_interval_by_maximising_the_likelihood(
    first: tuple[int, int], second: tuple[int, int], level: float
) -> None:
    """At either end the score is the normal quantile, with rates found by scipy's optimiser."""
    found = score_difference(first, second, level=level)
    (x1, n1), (x2, n2) = first, second
    for end in (found.lower, found.upper):

        def unlikely(rate: float, off: float = end) -> float:
            return -float(binom.logpmf(x1, n1, rate + off) + binom.logpmf(x2, n2, rate))

        bounds = (max(0.0, -end) + 1e-9, min(1.0, 1.0 - end) - 1e-9)
        rate = minimize_scalar(
            unlikely, bounds=bounds, method="bounded", options={"xatol": 1e-12}
        ).x
        variance = (rate + end) * (1 - rate - end) / n1 + rate * (1 - rate) / n2
        score = (x1 / n1 - x2 / n2 - end) / (variance * (n1 + n2) / (n1 + n2 - 1)) ** 0.5
        assert abs(score) == pytest.approx(NormalDist().inv_cdf(0.5 + level / 2), abs=1e-5)


@pytest.mark.parametrize(("first", "second"), [(first, second) for first, second, *_ in TABLE])
def test_plus_four_interval_as_the_library_computes_it(
    first: tuple[int, int], second: tuple[int, int]
) -> None:
    """Agresti and Caffo's interval by statsmodels."""
    found = plus_four_difference(first, second)
    low, high = confint_proportions_2indep(*first, *second, method="agresti-caffo")
    assert (found.lower, found.upper) == pytest.approx((max(-1, low), min(1, high)), abs=1e-9)


@pytest.mark.parametrize(
    ("pairs", "lower", "upper", "digits"),
    [((36, 12, 2, 0), 0.0569, 0.3404, 4), ((1, 1, 7, 12), -0.507, -0.026, 3)],
)
def test_paired_interval_as_printed(
    pairs: tuple[int, int, int, int], lower: float, upper: float, digits: int
) -> None:
    """Newcombe's method for pairs, to the digits printed."""
    found = paired_difference(*pairs)
    assert found.lower == pytest.approx(lower, abs=0.6 * 10**-digits)
    assert found.upper == pytest.approx(upper, abs=0.6 * 10**-digits)


def test_pairs_without_correlation_are_two_groups() -> None:
    """Where pairs say nothing of each other the interval is that of two groups, and it turns."""
    found, apart = paired_difference(4, 6, 4, 6), newcombe_difference((10, 20), (8, 20))
    assert (found.lower, found.upper) == pytest.approx((apart.lower, apart.upper))
    turned = paired_difference(4, 4, 6, 6)
    assert (turned.lower, turned.upper) == pytest.approx((-found.upper, -found.lower))


@pytest.mark.parametrize(
    ("failed", "tested", "lower", "upper"),
    [(81, 263, 0.2527, 0.3676), (15, 148, 0.0578, 0.1617), (0, 20, 0.0, 0.1684),
     (1, 29, 0.0009, 0.1776)],
)  # fmt: skip
def test_exact_limits_as_printed(failed: int, tested: int, lower: float, upper: float) -> None:
    """Clopper and Pearson, to the four printed decimals."""
    assert exact_limits(failed, tested) == pytest.approx((lower, upper), abs=6e-5)


@pytest.mark.parametrize("good", [14, 30, 100, 1000])
def test_rule_of_three(good: int) -> None:
    """None of 14 allows about 3 in 14; the exact limit is just below, and nearer for more chips."""
    assert 0.0 < 3.0 / good - still_possible(0, good) <= 1.7 / good**1.5


@pytest.mark.parametrize(("failed", "tested"), [(1, 29), (7, 30), (15, 148), (9, 10)])
def test_beta_limits_as_the_library_computes_them(failed: int, tested: int) -> None:
    """Jeffreys' interval by statsmodels; none and all failed have an end of the scale instead."""
    found = beta_limits(failed / tested, tested, NormalDist().inv_cdf(0.975))
    assert found == pytest.approx(proportion_confint(failed, tested, method="jeffreys"), abs=1e-9)
    assert beta_limits(0.0, tested, 1.96)[0] == 0.0
    assert beta_limits(1.0, tested, 1.96)[1] == 1.0


@pytest.mark.parametrize(("failed", "tested"), [(0, 12), (1, 29), (15, 148), (5, 5)])
def test_still_possible_is_the_exact_limit(failed: int, tested: int) -> None:
    """The upper end of Clopper and Pearson's two-sided 90 % interval is one-sided at 95 %."""
    _, upper = proportion_confint(failed, tested, alpha=0.10, method="beta")
    assert still_possible(failed, tested) == pytest.approx(upper, abs=1e-9)


def test_none_of_twelve_still_allows_a_fifth() -> None:
    """1 - 0.05^(1/12), in closed form."""
    assert still_possible(0, 12) == pytest.approx(1 - 0.05 ** (1 / 12), abs=1e-12)
