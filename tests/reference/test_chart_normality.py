"""
Normality and power scales.

Weights of 20 leghorn chicks: C. I. Bliss (1967) in R. B. D'Agostino and M. A. Stephens (1986),
Goodness-of-Fit Techniques (mean 209.6, s 30.65, A2 .214), from memory; A2* and p computed apart.
Critical values of Stephens' four cases: the same book, table 4.7, from memory. Textile and poison
data: G. E. P. Box and D. R. Cox (1964), Journal of the Royal Statistical Society B 26, 211-252
(lambda -.06 with -.18 to .06, and -.75), from memory; more digits computed apart. A. A. Michelson's
100 speeds of light: NIST statistical reference data set "Michelso", certified lag-1 correlation,
from memory.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from weakstep.charts import anderson_darling, anderson_darling_p, box_cox
from weakstep.charts.fitness import lag_one_correlation
from weakstep.charts.normality import stephens_p
from weakstep.errors import NotEnoughError

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


# case: mean known, sd known, critical values at LEVELS
LEVELS = (0.10, 0.05, 0.025, 0.01)
CASES = {
    0: (True, True, (1.933, 2.492, 3.070, 3.857)),
    1: (False, True, (0.894, 1.087, 1.285, 1.551)),
    2: (True, False, (1.743, 2.308, 2.898, 3.702)),
    3: (False, False, (0.631, 0.752, 0.873, 1.035)),
}


@pytest.mark.parametrize("case", CASES)
def test_critical_values_of_four_cases(case: int) -> None:
    """The limit law gives the tabled levels, to 3 % of the level (the table is by simulation)."""
    mean_known, sd_known, values = CASES[case]
    for level, value in zip(LEVELS, values, strict=True):
        found = anderson_darling_p(value, mean_known=mean_known, sd_known=sd_known)
        assert found == pytest.approx(level, rel=0.03)


@pytest.mark.parametrize("case", CASES)
def test_four_cases_by_scipy(case: int) -> None:
    """Statistic to nine digits, and p within 3 errors of scipy's 4999 simulated samples."""
    from scipy.stats import goodness_of_fit, norm

    mean_known, sd_known, _ = CASES[case]
    values = np.random.default_rng(61).normal(0.3, 1.2, size=25)
    known = ({"loc": 0.0} if mean_known else {}) | ({"scale": 1.0} if sd_known else {})
    rng = np.random.default_rng(62)
    other = goodness_of_fit(
        norm, values, known_params=known, statistic="ad", n_mc_samples=4999, rng=rng
    )
    found = anderson_darling(values, mean=known.get("loc"), sd=known.get("scale"))
    assert found.case == case
    # scipy fits the standard deviation with divisor n - 1 where the mean is fitted too.
    assert found.statistic == pytest.approx(other.statistic, rel=1e-9)
    limit = anderson_darling_p(found.modified, mean_known=mean_known, sd_known=sd_known)
    error = np.sqrt(limit * (1 - limit) / 4999)
    assert limit == pytest.approx(other.pvalue, abs=3 * error)
    # Stephens' formula of case 3 lies up to 0.025 off the limit law around p = 0.6.
    assert found.p == pytest.approx(limit, abs=0.025 if case == 3 else 1e-12)


@pytest.mark.parametrize("case", CASES)
def test_level_is_kept_by_small_samples(case: int) -> None:
    """Of 800 normal samples of 12 a tenth has p below 0.1, within 3 standard errors."""
    mean_known, sd_known, _ = CASES[case]
    values = np.random.default_rng(63).normal(5.0, 2.0, size=(800, 12))
    known = {"mean": 5.0 if mean_known else None, "sd": 2.0 if sd_known else None}
    share = np.mean([anderson_darling(row, **known).p < 0.1 for row in values])
    assert share == pytest.approx(0.1, abs=3 * np.sqrt(0.09 / 800))


def test_far_tails_and_refusals() -> None:
    """Chances fall without end, and what cannot be tested is told."""
    tails = [anderson_darling_p(a, mean_known=True, sd_known=True) for a in (0.01, 5, 20, 60)]
    assert tails[0] == 1.0
    assert np.all(np.diff(tails) < 0.0)
    assert tails[-1] > 0.0
    with pytest.raises(NotEnoughError, match="At least 5 values"):
        anderson_darling([1.0, 2.0, 3.0, 4.0], mean=0.0, sd=1.0)
    with pytest.raises(NotEnoughError, match="At least 8 values"):
        anderson_darling(range(7), mean=0.0)
    with pytest.raises(ValueError, match="sd must be above 0"):
        anderson_darling(range(9), sd=0.0)
    with pytest.raises(ValueError, match="mean must be finite"):
        anderson_darling(range(9), mean=float("nan"))
    assert anderson_darling([2.0] * 9, mean=2.0, sd=1.0).case == 0


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
