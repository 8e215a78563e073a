"""
Charts of counts after a change: operating characteristics and run lengths.

D. C. Montgomery, Introduction to Statistical Quality Control: chance of no signal of a p chart with
50 items and limits .0303 and .3697 (share .20), table of the operating characteristic; from memory.
c chart: tails of the Poisson distribution by scipy.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom, poisson

from weakstep.charts.count_run_lengths import fault_law, share_law
from weakstep.charts.patterns import WESTERN_ELECTRIC, completions

# true share: chance of no signal
NO_SIGNAL = {
    0.05: 0.7206, 0.10: 0.9662, 0.15: 0.9970, 0.20: 0.9973, 0.25: 0.9711, 0.30: 0.8594,
    0.35: 0.6216, 0.40: 0.3356, 0.45: 0.1273, 0.50: 0.0325, 0.55: 0.0053,
}  # fmt: skip


@pytest.mark.parametrize(("now", "printed"), NO_SIGNAL.items())
def test_operating_characteristic_of_a_p_chart(now: float, printed: float) -> None:
    """Chance of no signal to four decimals, and the run length that follows."""
    law = share_law(50, 0.20, now)
    assert law.survival(1) == pytest.approx(printed, abs=2.1e-4)
    assert law.average == pytest.approx(1 / (1 - law.survival(1)), rel=1e-9)
    exact = binom.cdf(18, 50, now) - binom.cdf(1, 50, now)
    assert law.survival(1) == pytest.approx(exact, rel=1e-10)


@pytest.mark.parametrize("now", [16.0, 20.0, 8.0])
def test_run_length_of_a_c_chart(now: float) -> None:
    """Limits 4 and 28 of 16 faults: one over the tails beyond them."""
    tails = poisson.sf(28, now) + poisson.cdf(3, now)
    law = fault_law(16.0, now)
    assert law.average == pytest.approx(1 / tails, rel=1e-9)
    assert law.sd == pytest.approx(np.sqrt(1 - tails) / tails, rel=1e-7)


def test_patterns_on_a_chart_of_counts_by_simulation() -> None:
    """Four patterns on 4000 p charts of 40 items, within 3 standard errors."""
    failed = np.random.default_rng(1).binomial(40, 0.25, size=(4000, 60))
    z = (failed / 40 - 0.2) / np.sqrt(0.2 * 0.8 / 40)
    found = np.logical_or.reduce(list(completions(z, WESTERN_ELECTRIC).values()))
    exact = 1 - share_law(40, 0.2, 0.25, WESTERN_ELECTRIC).survival(60)
    share = found.any(axis=1).mean()
    assert share == pytest.approx(exact, abs=3 * np.sqrt(exact * (1 - exact) / 4000))


def test_impossible_counts_are_refused() -> None:
    """The message names the numbers."""
    with pytest.raises(ValueError, match=r"now must be from 0 to 1, got 1\.2"):
        share_law(50, 0.2, 1.2)
    with pytest.raises(ValueError, match="mean must be above 0"):
        fault_law(0.0)
