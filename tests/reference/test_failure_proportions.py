"""
Wilson's interval against the print, and against statsmodels.

Newcombe, R. G. (1998), Statistics in Medicine 17, 857-872, Table I, method 3; the printed limits
are given from memory, to 4 decimals.
"""

from __future__ import annotations

import pytest
from statsmodels.stats.proportion import proportion_confint

from weakstep.failures.tally import wilson

NEWCOMBE = [
    (81, 263, 0.2553, 0.3662),
    (15, 148, 0.0624, 0.1605),
    (0, 20, 0.0, 0.1611),
    (1, 29, 0.0061, 0.1718),
]


@pytest.mark.parametrize(("count", "tested", "lower", "upper"), NEWCOMBE)
def test_wilson_agrees_with_the_printed_limits(count, tested, lower, upper):
    """Half a unit of the fourth decimal, as printed."""
    interval = wilson(count, tested)
    assert interval.lower == pytest.approx(lower, abs=5.1e-5)
    assert interval.upper == pytest.approx(upper, abs=5.1e-5)
    assert interval.estimate == count / tested


@pytest.mark.parametrize("level", [0.8, 0.95, 0.99])
@pytest.mark.parametrize(("count", "tested"), [(0, 1), (1, 1), (3, 7), (50, 50), (17, 291)])
def test_wilson_agrees_with_statsmodels(count, tested, level):
    """An independent computation of the same formula."""
    lower, upper = proportion_confint(count, tested, alpha=1 - level, method="wilson")
    interval = wilson(count, tested, level)
    assert (interval.lower, interval.upper) == pytest.approx((lower, upper), abs=1e-12)
