"""
Trend tests on published data.

Yearly flow of the Nile at Aswan 1871-1970 (G. W. Cobb 1978, Biometrika 65, 243-251: the level fell
after 1898); statistics computed apart from this package. M. Hollander and D. A. Wolfe,
Nonparametric Statistical Methods: cloud seeding (slope -.056, statistic -6), from memory.
"""

from __future__ import annotations

import csv
from itertools import permutations
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import theilslopes

from weakstep.drift.trend import _kendall_variance, mann_kendall, pettitt, theil_sen

DATA = Path(__file__).parent / "data" / "nile_1871_1970.csv"
CLOUD_SEEDING = [1.26, 1.27, 1.12, 1.16, 1.03]


def nile() -> np.ndarray:
    """Read the 100 yearly flows."""
    with DATA.open(encoding="utf-8") as rows:
        return np.array([float(list(row.values())[-1]) for row in csv.DictReader(rows)])


def test_mann_kendall_on_the_nile() -> None:
    """S -1387, variance 112728.33 with ties, Z -4.128067, p 3.658e-5."""
    found = mann_kendall(nile())
    assert found.statistic == -1387
    assert found.variance == pytest.approx(112728.33, abs=5e-3)
    assert found.z == pytest.approx(-4.128067, abs=6e-7)
    assert found.p == pytest.approx(3.658e-5, abs=5e-9)


def test_theil_sen_on_the_nile() -> None:
    """Slope -2.6 a year, 95 % interval -3.6279 to -1.4286."""
    found = theil_sen(nile())
    assert found.estimate == pytest.approx(-2.6, abs=1e-9)
    assert (found.lower, found.upper) == pytest.approx((-3.6279, -1.4286), abs=5.1e-5)


def test_pettitt_on_the_nile() -> None:
    """The level changes after the 28th year, 1898: |U| 1617, p 3.591e-7."""
    found = pettitt(nile())
    assert (found.statistic, found.first_changed) == (1617, 28)
    assert found.p == pytest.approx(3.591e-7, abs=5e-11)


def test_cloud_seeding() -> None:
    """Median slope -.056 (exactly -.05625), Kendall's statistic -6."""
    assert mann_kendall(CLOUD_SEEDING).statistic == -6
    assert theil_sen(CLOUD_SEEDING).estimate == pytest.approx(-0.05625, abs=1e-12)
    intercept = np.median(CLOUD_SEEDING - theil_sen(CLOUD_SEEDING).estimate * np.arange(1, 6))
    assert intercept == pytest.approx(1.316, abs=5e-4)


def test_gaps_leave_the_tests_alone() -> None:
    """Missing years are passed over, and the first changed place counts them."""
    flows = nile()
    gapped = np.insert(flows, 10, [np.nan, np.nan])
    assert mann_kendall(gapped) == mann_kendall(flows)
    assert pettitt(gapped).first_changed == 30


def test_slopes_with_times_by_scipy() -> None:
    """Unequal steps in time, out of order and with a gap: slope and interval of theilslopes."""
    rng = np.random.default_rng(41)
    for _ in range(20):
        times = rng.permutation(rng.uniform(0.0, 50.0, size=25))
        values = 0.1 * times + np.round(rng.normal(size=25), 1)
        found = theil_sen(np.append(values, np.nan), np.append(times, 7.0), level=0.9)
        other = theilslopes(values, times, 0.9)
        assert found.estimate == pytest.approx(other.slope)
        assert (found.lower, found.upper) == pytest.approx((other.low_slope, other.high_slope))


def test_slopes_of_values_that_share_times() -> None:
    """Variance of the statistic over all 720 orders of values with ties in both, exactly."""
    values, times = np.array([1.0, 1.0, 2.0, 3.0, 3.0, 3.0]), np.array([0, 0, 0, 1, 1, 2])
    orders = np.array(list(permutations(values)))
    signs = np.sign(orders[:, None, :] - orders[:, :, None]) * np.sign(times - times[:, None])
    statistic = np.triu(signs, 1).sum(axis=(1, 2))
    assert statistic.mean() == pytest.approx(0.0, abs=1e-12)
    assert _kendall_variance(values, times) == pytest.approx(statistic.var(), rel=1e-12)
    wide = theil_sen([1.0, 1.2, 2.0, 3.1, 2.9, 3.0, 4.0, 4.2], [0, 0, 1, 1, 2, 2, 3, 3], 0.99)
    assert wide.lower < wide.estimate < wide.upper


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: theil_sen([1.0, 2.0, 4.0], [0.0, 1.0]), "a time for each of 3 values"),
        (lambda: theil_sen([1.0, 2.0, 4.0], [0.0, 1.0, np.nan]), "a finite time"),
        (lambda: theil_sen([1.0, 2.0, 4.0], level=95), "level must lie between 0 and 1"),
        (lambda: mann_kendall([1.0, np.inf, 2.0]), "one row of finite numbers"),
        (lambda: pettitt(["a", "b", "c"]), "values must hold numbers"),
    ],
)
def test_refusals(call, words: str) -> None:  # type: ignore[no-untyped-def]
    """One sentence names the argument."""
    with pytest.raises(ValueError, match=words):
        call()
