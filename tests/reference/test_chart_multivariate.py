"""
Hotelling's T2 and MEWMA.

D. C. Montgomery, Introduction to Statistical Quality Control: 20 samples of 10 fibres (tensile
strength and diameter), from memory. Run lengths of T2: C. A. Lowry and others (1992), Technometrics
34, 46-53, from memory. MEWMA limits for an average run length of 200: S. S. Prabhu and G. C. Runger
(1997), Designing a multivariate EWMA control chart, Journal of Quality Technology 29, 8-15, table
for 2 and 4 variables, from memory (they used a Markov chain: a unit in the last digit may differ).
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from weakstep.charts.ewma_run_lengths import ewma_run_length
from weakstep.charts.mewma_limits import mewma_limit
from weakstep.charts.mewma_run_lengths import mewma_run_length
from weakstep.charts.multivariate import Baseline, t2_chart
from weakstep.charts.multivariate_limits import t2_limit, t2_run_length

DATA = Path(__file__).parent / "data"
FIBRE = Baseline(
    np.array([115.59, 1.06]), np.array([[1.23, 0.79], [0.79, 0.83]]), n_points=20, size=10
)


def fibre_means() -> tuple[np.ndarray, np.ndarray]:
    """Means of the samples, and T2 as computed apart from this package."""
    with (DATA / "montgomery_hotelling_fiber.csv").open(encoding="utf-8") as rows:
        table = list(csv.DictReader(rows))
    means = [[float(row["mean_tensile"]), float(row["mean_diameter"])] for row in table]
    return np.array(means), np.array([float(row["T2_computed"]) for row in table])


def test_fibres() -> None:
    """T2 of 20 samples to two decimals, none above the baseline limit of 13.72."""
    means, computed = fibre_means()
    found = t2_chart(means, FIBRE, false_alarm=0.001, phase="baseline").chart
    assert found.values == pytest.approx(computed, abs=5e-4)
    printed = [2.16, 2.14, 6.77, 8.29, 1.89, 0.03, 7.54, 3.01, 5.92, 2.41, 1.13, 9.96, 3.86, 1.11]
    assert found.values[:14] == pytest.approx(printed, abs=5.1e-3)
    assert found.limits.upper[0] == pytest.approx(13.72, abs=5e-3)
    assert found.signals == ()
    later = t2_chart(means, FIBRE, false_alarm=0.001, phase="monitoring").chart
    assert later.limits.upper[0] == pytest.approx(15.165, abs=5e-4)


@pytest.mark.parametrize(
    ("distance", "printed"),
    [(0, 200), (0.5, 116), (1, 42.0), (1.5, 15.8), (2, 6.9), (2.5, 3.5), (3, 2.2)],
)
def test_t2_run_lengths(distance: float, printed: float) -> None:
    """
    Two variables, limit 10.597: to half a printed digit.

    At a distance of 1 it is one digit: 41.92 by the noncentral chi-squared law, printed as 42.0.
    """
    found = t2_run_length(10.597, 2, distance)
    close = 0.5 if printed > 100 else 0.1 if distance == 1 else 0.051
    assert found == pytest.approx(printed, abs=close)


def test_limit_of_known_parameters_is_chi_squared() -> None:
    """10.597 is the 99.5 % point of chi-squared with 2 degrees of freedom (tables)."""
    assert t2_limit(2, false_alarm=0.005) == pytest.approx(10.597, abs=5e-4)


@pytest.mark.parametrize(
    ("variables", "weight", "printed"),
    [
        (2, 0.05, 7.35), (2, 0.10, 8.64), (2, 0.20, 9.65), (2, 0.30, 10.08), (2, 0.50, 10.44),
        (2, 0.80, 10.58), (4, 0.05, 11.22), (4, 0.10, 12.73), (4, 0.20, 13.87), (4, 0.80, 14.85),
    ],
)  # fmt: skip
def test_mewma_limits(variables: int, weight: float, printed: float) -> None:
    """Limits for an average run length of 200, to a unit in the second decimal."""
    assert mewma_limit(variables, weight, 200.0) == pytest.approx(printed, abs=1.2e-2)


def test_mewma_of_one_variable_is_an_ewma() -> None:
    """Its run length is that of the EWMA with the square root of the limit as width."""
    for weight, width in ((0.1, 2.814), (0.4, 3.054)):
        both = mewma_run_length(width**2, 1, weight)
        assert both == pytest.approx(ewma_run_length(weight, width), rel=1e-6)
