"""
Differences of two shares, against the published table and a reference library.

Newcombe, R. G. (1998), Interval estimation for the difference between independent proportions:
comparison of eleven methods, Statistics in Medicine 17, 873-890, Table II, method 10 (hybrid score
without continuity correction); values from memory, four decimals printed. The library's
`method="score"` is not used here: its constrained estimate is known to be wrong.
"""

from __future__ import annotations

from statistics import NormalDist

import pytest
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from weakstep.trials.rates import beta_limits, newcombe_difference, still_possible

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
