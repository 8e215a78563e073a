"""
Hotelling's T2 of single observations: 14 points of a chemical process.

N. D. Tracy, J. C. Young and R. L. Mason (1992), Multivariate control charts for individual
observations, Journal of Quality Technology 24, 88-95: impurities, temperature and concentration,
their T2 and the limit of the baseline by the beta distribution; data and values from memory.
"""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.charts.multivariate import baseline, t2_chart
from weakstep.charts.multivariate_limits import t2_limit

POINTS = np.array(
    [
        [14.92, 85.77, 42.26], [16.90, 83.77, 43.44], [17.38, 84.46, 42.74], [16.90, 86.27, 43.60],
        [16.92, 85.23, 43.18], [16.71, 83.81, 43.72], [17.07, 86.08, 43.33], [16.93, 85.85, 43.41],
        [16.71, 85.73, 43.28], [16.88, 86.27, 42.59], [16.73, 83.46, 44.00], [17.07, 85.81, 42.78],
        [17.60, 85.92, 43.11], [16.90, 84.23, 43.48],
    ]
)  # fmt: skip
PRINTED = [10.93, 2.04, 5.58, 3.86, 0.04, 2.25, 1.44, 1.21, 0.68, 2.17, 4.17, 1.40, 2.33, 0.90]


def test_t2_of_single_observations() -> None:
    """All 14 values to two decimals; only the first lies beyond the baseline limit of 8.55."""
    found = t2_chart(POINTS, baseline(POINTS), false_alarm=0.005, phase="baseline")
    assert found.chart.values == pytest.approx(PRINTED, abs=5.1e-3)
    assert found.chart.limits.upper[0] == pytest.approx(8.55, abs=5e-3)
    assert [signal.at for signal in found.chart.signals] == [0]
    assert found.contributions[0].argmax() == 0  # the impurities set it apart


def test_sum_of_the_baseline_values() -> None:
    """The T2 of all points of a baseline add up to p (m - 1), an identity."""
    found = t2_chart(POINTS, baseline(POINTS), phase="baseline").chart
    assert found.values.sum() == pytest.approx(3 * 13)


def test_limits_by_the_f_distribution() -> None:
    """The beta limit is one of F: (m-1)^2/m q F / (1 + q F), q = p/(m-p-1); tables of F."""
    # F(.95; 3, 10) = 3.708 and F(.95; 3, 11) = 3.587 in any table.
    ratio = 3 / 10 * 3.708
    by_table = 13**2 / 14 * ratio / (1 + ratio)
    assert t2_limit(3, false_alarm=0.05, phase="baseline", n_points=14) == pytest.approx(
        by_table, rel=2e-4
    )
    later = 3 * 15 * 13 / (14 * 11) * 3.587
    assert t2_limit(3, false_alarm=0.05, phase="monitoring", n_points=14) == pytest.approx(
        later, rel=2e-4
    )
