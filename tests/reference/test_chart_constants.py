"""
Control-chart constants for n = 2 to 25, by other roads and against printed tables.

data/control_chart_constants.csv: moments of the normal range by two-dimensional Gauss quadrature
and c4 by the gamma function, ten decimals, computed apart from this package.
Printed: ASTM Manual 7 (MNL 7), Manual on Presentation of Data and Control Chart Analysis, and
D. C. Montgomery, Introduction to Statistical Quality Control, appendix VI; the values below come
from memory of these tables. Some printed D3, D4 and d3 differ by one in the third decimal from the
exact values because they were made from rounded d2 and d3, hence the tolerance of 1e-3.
A4 of median charts: ISO 7870-2 (as ISO 8258 before it), from memory. Variances of medians of three
and five: A. E. Sarhan and B. G. Greenberg (1962), Contributions to Order Statistics, from memory.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from scipy import stats
from scipy.integrate import quad

from weakstep.charts.factors import constants
from weakstep.charts.median_laws import median_sd

DATA = Path(__file__).parent / "data" / "control_chart_constants.csv"
ROWS = list(csv.DictReader(DATA.read_text(encoding="utf-8").splitlines()))
COLUMNS = ("d2", "d3", "c4", "A2", "A3", "B3", "B4", "D3", "D4")
PRINTED = {
    2: (1.128, 0.853, 0.7979, 1.880, 2.659, 0, 3.267, 0, 3.267),
    3: (1.693, 0.888, 0.8862, 1.023, 1.954, 0, 2.568, 0, 2.574),
    4: (2.059, 0.880, 0.9213, 0.729, 1.628, 0, 2.266, 0, 2.282),
    5: (2.326, 0.864, 0.9400, 0.577, 1.427, 0, 2.089, 0, 2.114),
    6: (2.534, 0.848, 0.9515, 0.483, 1.287, 0.030, 1.970, 0, 2.004),
    7: (2.704, 0.833, 0.9594, 0.419, 1.182, 0.118, 1.882, 0.076, 1.924),
    8: (2.847, 0.820, 0.9650, 0.373, 1.099, 0.185, 1.815, 0.136, 1.864),
    9: (2.970, 0.808, 0.9693, 0.337, 1.032, 0.239, 1.761, 0.184, 1.816),
    10: (3.078, 0.797, 0.9727, 0.308, 0.975, 0.284, 1.716, 0.223, 1.777),
    15: (3.472, 0.756, 0.9823, 0.223, 0.789, 0.428, 1.572, 0.347, 1.653),
    20: (3.735, 0.729, 0.9869, 0.180, 0.680, 0.510, 1.490, 0.415, 1.585),
    25: (3.931, 0.708, 0.9896, 0.153, 0.606, 0.565, 1.435, 0.459, 1.541),
}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"n={row['n']}")
def test_all_constants_to_six_decimals(row: dict[str, str]) -> None:
    """Every constant of the ten-decimal table is met within 1e-6 (it prints 1e-10)."""
    found = constants(int(row["n"]))
    for name, value in row.items():
        assert getattr(found, name) == pytest.approx(float(value), abs=1e-9), name


def test_the_table_is_complete() -> None:
    """The comparison above covers n = 2 to 25 and all fifteen constants."""
    assert [int(row["n"]) for row in ROWS] == list(range(2, 26))
    assert len(ROWS[0]) == 16


@pytest.mark.parametrize("n", PRINTED)
def test_printed_table_to_three_decimals(n: int) -> None:
    """The printed tables are met within one in their third decimal."""
    found = [getattr(constants(n), name) for name in COLUMNS]
    assert found == pytest.approx(PRINTED[n], abs=1.001e-3)


@pytest.mark.parametrize("n", [2, 7, 25, 60])
def test_mean_range_by_order_statistics(n: int) -> None:
    """d2 is twice the mean of the largest of n normal values, by adaptive quadrature."""
    largest, _ = quad(lambda x: x * n * stats.norm.pdf(x) * stats.norm.cdf(x) ** (n - 1), -9, 9)
    assert constants(n).d2 == pytest.approx(2 * largest, abs=1e-6)


@pytest.mark.parametrize("n", [3, 12])
def test_range_moments_by_the_studentized_range(n: int) -> None:
    """The distribution of the range (studentized, infinite freedom) gives d2 and d3 too."""
    beyond = stats.studentized_range(n, np.inf).sf
    nodes, weights = np.polynomial.legendre.leggauss(40)
    widths = 5.0 * (nodes + 1.0)
    tail = np.asarray(beyond(widths))
    mean = 5.0 * float(weights @ tail)
    square = 5.0 * float(weights @ (2 * widths * tail))
    assert constants(n).d2 == pytest.approx(mean, abs=1e-6)
    assert constants(n).d3 == pytest.approx(np.sqrt(square - mean**2), abs=1e-6)


@pytest.mark.parametrize(
    ("n", "printed"),
    [
        (2, 1.880), (3, 1.187), (4, 0.796), (5, 0.691), (6, 0.548), (7, 0.508), (8, 0.433),
        (9, 0.412), (10, 0.362),
    ],
)  # fmt: skip
def test_factors_of_median_charts(n: int, printed: float) -> None:
    """A4 within one in its third decimal (printed from rounded factors)."""
    assert pytest.approx(printed, abs=1.001e-3) == constants(n).A4


@pytest.mark.parametrize(("n", "variance"), [(3, 0.4487), (5, 0.2868)])
def test_variance_of_the_median(n: int, variance: float) -> None:
    """To four decimals; for one value and for two it is that of the mean."""
    assert median_sd(n) ** 2 == pytest.approx(variance, abs=5.1e-5)
    assert (median_sd(1) ** 2, median_sd(2) ** 2) == pytest.approx((1.0, 0.5), rel=1e-12)
