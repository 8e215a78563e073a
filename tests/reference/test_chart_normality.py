"""
Normality and power scales.

Weights of 20 leghorn chicks: C. I. Bliss (1967) in R. B. D'Agostino and M. A. Stephens (1986),
Goodness-of-Fit Techniques (mean 209.6, s 30.65, A2 .214), from memory; A2* and p computed apart.
Case-3 critical values of Stephens, from memory. Textile and poison data: G. E. P. Box and D. R. Cox
(1964), Journal of the Royal Statistical Society B 26, 211-252 (lambda -.06 with -.18 to .06, and
-.75), from memory; more digits computed apart. A. A. Michelson's 100 speeds of light: NIST
statistical reference data set "Michelso", certified lag-1 correlation, from memory.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from weakstep.charts.fitness import lag_one_correlation
from weakstep.charts.normality import anderson_darling, box_cox, stephens_p

DATA = Path(__file__).parent / "data"


def rows(file: str) -> list[dict[str, str]]:
    """Rows of a data file."""
    with (DATA / file).open(encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


def test_leghorn_chicks() -> None:
    """A2 is .214, modified .223411, p .8260."""
    weights = np.array([float(row["weight"]) for row in rows("leghorn_chicks_20.csv")])
    assert weights.mean() == pytest.approx(209.6)
    assert weights.std(ddof=1) == pytest.approx(30.65, abs=5e-3)
    found = anderson_darling(weights)
    assert found.statistic == pytest.approx(0.214174, abs=6e-7)
    assert found.modified == pytest.approx(0.223411, abs=6e-7)
    assert found.p == pytest.approx(0.8260, abs=5e-5)


@pytest.mark.parametrize(
    ("modified", "p"), [(0.631, 0.10), (0.752, 0.05), (0.873, 0.025), (1.035, 0.01)]
)
def test_stephens_critical_values(modified: float, p: float) -> None:
    """The formula of p gives the tabled levels at the tabled values, to 2 % of the level."""
    assert stephens_p(modified) == pytest.approx(p, rel=0.02)


def test_michelson() -> None:
    """Mean 299.8524, sd .0790105478190518, lag-1 correlation .535199668621283 (1000 km/s)."""
    speed = np.array([float(row["speed_km_s"]) for row in rows("michelson_100.csv")]) / 1000.0
    assert speed.mean() == pytest.approx(299.8524, abs=1e-12)
    assert speed.std(ddof=1) == pytest.approx(0.0790105478190518, rel=1e-10)
    assert lag_one_correlation(speed) == pytest.approx(0.535199668621283, rel=1e-10)


def test_textile() -> None:
    """Power -.05928 (-.18263 to .06450) with the three factors as columns."""
    table = rows("boxcox_textile.csv")
    cycles = np.array([float(row["cycles"]) for row in table])
    factors = [[float(row[name]) for name in ("length", "amplitude", "load")] for row in table]
    design = np.column_stack([np.ones(27), factors])
    power = box_cox(cycles, design)
    assert (power.estimate, power.lower, power.upper) == pytest.approx(
        (-0.05928, -0.18263, 0.06450), abs=6e-6
    )
    assert power.estimate == pytest.approx(-0.06, abs=5e-3)
    slopes = np.linalg.lstsq(design, np.log(cycles), rcond=None)[0][1:]
    assert slopes == pytest.approx([0.8324, -0.6310, -0.3925], abs=5.1e-5)


def test_poisons() -> None:
    """Power -.75016 (-1.1380 to -.3561) in the additive model."""
    table = rows("boxcox_poisons.csv")
    time = np.array([float(row["time"]) for row in table])
    columns = [np.ones(48)]
    columns += [np.array([row["poison"] == name for row in table]) * 1.0 for name in "23"]
    columns += [np.array([row["treat"] == name for row in table]) * 1.0 for name in "BCD"]
    power = box_cox(time, np.column_stack(columns))
    assert (power.estimate, power.lower, power.upper) == pytest.approx(
        (-0.75016, -1.1380, -0.3561), abs=6e-5
    )
