"""
Sigma from a few ranges, and from moving ranges.

Scale and degrees of freedom of pooled ranges: P. B. Patnaik (1950), Biometrika 37, 78-87, as in
A. J. Duncan, Quality Control and Industrial Statistics, table D3, from memory. Limits from the
median moving range (3.145 and 3.865 times it): D. J. Wheeler and D. S. Chambers, Understanding
Statistical Process Control, appendix, from memory.
"""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.charts.factors import constants
from weakstep.charts.pooled_ranges import pooled_range
from weakstep.charts.single_values import MEDIAN_MOVING_RANGE, moving_range_freedom
from weakstep.charts.variables import individuals

# (values, subgroups): d2*, degrees of freedom
PRINTED = {
    (2, 1): (1.414, 1.0), (2, 2): (1.279, 1.9), (2, 3): (1.231, 2.8), (2, 4): (1.206, 3.7),
    (2, 5): (1.191, 4.6), (2, 10): (1.160, 9.0), (3, 1): (1.912, 2.0), (3, 2): (1.805, 3.8),
    (3, 3): (1.769, 5.7), (4, 1): (2.239, 2.9), (4, 2): (2.151, 5.7), (5, 1): (2.481, 3.8),
    (5, 2): (2.405, 7.5), (5, 5): (2.358, 18.4), (6, 1): (2.673, 4.7), (10, 1): (3.179, 7.7),
}  # fmt: skip


@pytest.mark.parametrize(("n", "m"), PRINTED)
def test_pooled_ranges(n: int, m: int) -> None:
    """Scale to three decimals, degrees of freedom to one."""
    scale, freedom = pooled_range(n, m)
    assert scale == pytest.approx(PRINTED[n, m][0], abs=5.1e-4)
    assert freedom == pytest.approx(PRINTED[n, m][1], abs=0.051)


def test_one_range_of_two_is_exact() -> None:
    """One range of two values is sqrt(2) sigma |z|: scale sqrt(2) with one degree of freedom."""
    assert pooled_range(2, 1) == pytest.approx((np.sqrt(2), 1.0), rel=1e-9)
    with pytest.raises(ValueError, match="n_subgroups must be a whole number of at least 1"):
        pooled_range(2, 0)


def test_pooled_ranges_by_simulation() -> None:
    """Mean square and relative variance of 20000 mean ranges, within 4 standard errors."""
    values = np.random.default_rng(3).normal(size=(20_000, 3, 4))
    found = np.ptp(values, axis=2).mean(axis=1)
    scale, freedom = pooled_range(4, 3)
    square = (found / scale) ** 2
    assert square.mean() == pytest.approx(1.0, abs=4 * square.std() / np.sqrt(20_000))
    assert square.var() == pytest.approx(2 / freedom, rel=0.05)


def test_median_moving_range_factors() -> None:
    """3.145 median moving ranges to a limit of values, 3.865 to that of moving ranges."""
    assert pytest.approx(3.145, abs=5e-4) == 3 / MEDIAN_MOVING_RANGE
    # Printed from rounded factors; it is 3.8641 exactly.
    assert pytest.approx(3.865, abs=1e-3) == constants(2).D2 / MEDIAN_MOVING_RANGE
    values = np.random.default_rng(1).normal(50.0, 2.0, size=40)
    chart, ranges = individuals(values, sigma_by="median moving range")
    middle = np.median(np.abs(np.diff(values)))
    assert chart.limits.upper[0] - chart.limits.centre == pytest.approx(3.145 * middle, rel=2e-4)
    assert ranges.limits.upper[0] == pytest.approx(3.865 * middle, rel=3e-4)


def test_mean_moving_range_factors() -> None:
    """2.660 mean moving ranges to a limit of values and 3.267 to that of moving ranges."""
    assert pytest.approx(2.660, abs=2e-3) == constants(2).E2  # printed as 3 / 1.128
    assert pytest.approx(3.267, abs=1e-3) == constants(2).D4


@pytest.mark.parametrize("n", [10, 50])
def test_degrees_of_freedom_of_the_moving_range(n: int) -> None:
    """Cryer and Ryan: variance (0.8264 n - 1.082) / (n - 1)^2 of sigma squared."""
    variance = (0.8264 * n - 1.082) / (n - 1) ** 2
    assert moving_range_freedom(n) == pytest.approx(1 / (2 * variance), rel=2e-3)
