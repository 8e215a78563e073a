"""
Capability indices and their intervals.

NIST/SEMATECH e-Handbook 6.1.6 (limits 20 and 8, mean 16, s 2: Cp 1.0, Cpk 0.6667), from memory.
D. C. Montgomery, Introduction to Statistical Quality Control: interval of Cp (62, 38, n 20, s 1.75)
and of Cpk after A. F. Bissell (1990), Applied Statistics 39, 331-340 (n 20, Cpk 1.33), from memory.
75 values of Bissell's example, limits 5.49 and 5.79: indices computed apart from this package.
One-sided indices: an index k/3 whose lower end at level 2 g - 1 is z(p)/3 makes k the factor of a
one-sided normal tolerance limit (D. B. Owen 1963, Factors for one-sided tolerance limits, Sandia
monograph SCR-607; n 43, p .90, g .99: NIST/SEMATECH e-Handbook 7.2.6.3, 1.8740), from memory.
Cpm: D. C. Montgomery, the same book (limits 35 and 65, target 50: mean 57.5 and sigma 2.5 give
Cp 2.0, Cpk 1.0, Cpm 0.63), from memory. Other intervals of Cpk: coverage by simulation.
Percentile indices: no published example was found; exact values of the definition (ISO 22514-2) for
known distributions.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from weakstep.charts import (
    capability,
    centred_index_interval,
    one_sided_index_interval,
    spread_index_interval,
    summary_indices,
    target_index,
    target_index_interval,
)
from weakstep.charts.percentiles import normal_scale_quantiles, percentile_indices
from weakstep.errors import NotEnoughError

DATA = Path(__file__).parent / "data"


def bissell() -> np.ndarray:
    """Read the 75 values."""
    with (DATA / "bissell_capability_75.csv").open(encoding="utf-8") as rows:
        return np.array([float(row["y"]) for row in csv.DictReader(rows)])


def test_nist_arithmetic() -> None:
    """Cp 1.0 and Cpk 0.6667 for mean 16 and sigma 2 between 8 and 20."""
    found = capability(
        np.tile([14.0, 18.0], 20), lower=8, upper=20, sigma=2.0, degrees_of_freedom=39
    )
    assert found.cp is not None
    assert found.cp.estimate == pytest.approx(1.0)
    assert found.cpk.estimate == pytest.approx(0.6667, abs=5e-5)


def test_interval_of_cp() -> None:
    """Cp 2.29 from 20 values: 1.57 to 3.01."""
    found = spread_index_interval(2.29, 19)
    assert (found.lower, found.upper) == pytest.approx((1.57, 3.01), abs=5e-3)


def test_interval_of_cpk() -> None:
    """Cpk 1.33 from 20 values: 0.88 to 1.78."""
    found = centred_index_interval(1.33, 20)
    assert (found.lower, found.upper) == pytest.approx((0.88, 1.78), abs=5e-3)


def test_bissell_data() -> None:
    """Overall mean 5.6136 and s 0.0483132 give Ppk .852770 and Pp 1.034915."""
    values = bissell()
    assert values.mean() == pytest.approx(5.613600, abs=5e-7)
    found = capability(
        values, lower=5.49, upper=5.79, sigma=values.std(ddof=1), degrees_of_freedom=74
    )
    assert found.pp is not None
    assert found.ppk.estimate == pytest.approx(0.852770, abs=6e-7)
    assert found.pp.estimate == pytest.approx(1.034915, abs=6e-7)
    assert found.cpk == found.ppk
    assert found.outside_observed == np.mean((values < 5.49) | (values > 5.79))


@pytest.mark.parametrize(
    ("quantiles", "tolerance", "indices"),
    [
        ((0.22313273, 1.0, 4.48163751), (0.1, 6.0), (1.3854628, 1.1584991, 1.4361058)),
        ((0.1222038, 7.8321977, 35.2125965), (0.0, 60.0), (1.7098697, 1.0158501, 1.9052974)),
    ],
    ids=["lognormal(0, .5)", "Weibull(1.5, 10)"],
)
def test_percentile_indices(
    quantiles: tuple[float, float, float],
    tolerance: tuple[float, float],
    indices: tuple[float, float, float],
) -> None:
    """Exact indices of two skewed distributions, to seven digits."""
    found = percentile_indices(quantiles, lower=tolerance[0], upper=tolerance[1])
    assert (found.pp, found.pp_lower, found.pp_upper) == pytest.approx(indices, rel=2e-7)
    assert found.ppk == min(found.pp_lower or 9.0, found.pp_upper or 9.0)


def test_one_sided_exponential() -> None:
    """Exponential of mean 1, upper limit 8: index 1.2354127."""
    quantiles = (-np.log1p(-0.00135), np.log(2.0), -np.log(0.00135))
    found = percentile_indices(quantiles, upper=8.0)
    assert found.pp_upper == pytest.approx(1.2354127, rel=2e-7)
    assert found.pp is None
    assert found.pp_lower is None


def test_lognormal_quantiles_by_the_log_scale() -> None:
    """Values with log mean 0 and log s 0.5 have the lognormal's quantiles."""
    logs = np.tile([-1.0, 1.0], 50)
    low, middle, high = normal_scale_quantiles(np.exp(logs * 0.5 / logs.std(ddof=1)), 0.0)
    assert (low, middle, high) == pytest.approx((0.22313273, 1.0, 4.48163751), rel=1e-6)


def test_an_unstable_parameter_is_refused_with_the_reason() -> None:
    """Capability compares one spread; a parameter that moved has none."""
    with pytest.raises(NotEnoughError, match="not stable: a step at run 40"):
        capability(bissell(), upper=6.0, sigma=1.0, degrees_of_freedom=9, moved="a step at run 40")


@pytest.mark.parametrize(
    ("n", "share", "sure", "factor"),
    [
        (10, 0.90, 0.95, 2.355), (10, 0.95, 0.95, 2.911), (10, 0.99, 0.95, 3.981),
        (20, 0.99, 0.95, 3.295), (30, 0.99, 0.95, 3.064), (50, 0.95, 0.95, 2.065),
        (43, 0.90, 0.99, 1.874),
    ],
)  # fmt: skip
def test_one_sided_interval_by_tolerance_factors(
    n: int, share: float, sure: float, factor: float
) -> None:
    """The lower end for an index of k/3 is z(p)/3, to the digits of the printed factor."""
    from scipy.special import ndtri

    found = one_sided_index_interval(factor / 3, n, 2 * sure - 1)
    assert found.lower == pytest.approx(ndtri(share) / 3, abs=2e-4)


def test_one_sided_interval_covers() -> None:
    """Of 800 samples of 15 values, 90 % of the intervals hold the true index of 1 (3 errors)."""
    values = np.random.default_rng(15).normal(size=(800, 15))
    found = [
        one_sided_index_interval(float((3.0 - row.mean()) / (3 * row.std(ddof=1))), 15, 0.9)
        for row in values
    ]
    covered = np.mean([interval.lower <= 1.0 <= interval.upper for interval in found])
    assert covered == pytest.approx(0.9, abs=3 * np.sqrt(0.09 / 800))


def test_one_limit_has_the_exact_interval() -> None:
    """With the upper limit alone, Ppk carries the interval of noncentral t."""
    values = bissell()
    s = values.std(ddof=1)
    found = capability(values, upper=5.79, sigma=s, degrees_of_freedom=74)
    exact = one_sided_index_interval(float((5.79 - values.mean()) / (3 * s)), 75)
    assert (found.ppk.lower, found.ppk.upper) == pytest.approx((exact.lower, exact.upper))
    assert found.pp is None


def test_cpm_of_two_processes() -> None:
    """On target it is Cp; at 57.5 with sigma 2.5 it is 0.63 where Cp is 2.0."""
    on = np.tile([-1.0, 1.0], 500)
    on /= on.std(ddof=1)
    assert target_index(50.0 + 5.0 * on, lower=35, upper=65).estimate == pytest.approx(1.0)
    off = target_index(57.5 + 2.5 * on, lower=35, upper=65)
    assert off.estimate == pytest.approx(0.63, abs=5e-3)
    assert off.estimate == pytest.approx(2 / np.sqrt(10))
    # The middle is only the default target.
    aimed = target_index(57.5 + 2.5 * on, lower=35, upper=65, target=57.5)
    assert aimed.estimate == pytest.approx(2.0)
    with pytest.raises(ValueError, match="target must lie within"):
        target_index(on, lower=35, upper=65, target=70)


@pytest.mark.parametrize("offset", [0.0, 1.0])
def test_interval_of_cpm_covers(offset: float) -> None:
    """Of 4000 samples of 60, 95 % hold the true Cpm, within 3 standard errors and 1 %."""
    values = np.random.default_rng(71).normal(offset, size=(4000, 60))
    true = 8.0 / (6.0 * np.sqrt(1.0 + offset**2))
    found = [target_index(row, lower=-4, upper=4) for row in values]
    covered = np.mean([one.lower <= true <= one.upper for one in found])
    assert covered == pytest.approx(0.95, abs=0.01 + 3 * np.sqrt(0.0475 / 4000))


@pytest.mark.parametrize("method", ["bissell", "nagata", "heavlin", "kushler"])
def test_intervals_of_cpk_cover(method: str) -> None:
    """Off-centre normal values, Cpk 1.33: of 4000 samples of 50, 92.5 to 97.5 % are right."""
    values = np.random.default_rng(72).normal(1.0, size=(4000, 50))
    means, s = values.mean(axis=1), values.std(axis=1, ddof=1)
    found = [
        centred_index_interval(float(index), 50, method=method)  # type: ignore[arg-type]
        for index in (5.0 - means) / (3.0 * s)
    ]
    covered = np.mean([one.lower <= 4.0 / 3.0 <= one.upper for one in found])
    assert 0.925 < covered < 0.975


def test_formulas_of_cpk() -> None:
    """Index 1.33 from 20 values at 95 %, each by its formula in numbers."""
    z, n, c = 1.959963985, 20, 1.33
    inner = np.sqrt(1 / 180 + c**2 / 38)
    expected = {
        "bissell": c - z * inner,
        "nagata": np.sqrt(1 - 2 / 95) * c - z * inner,
        "heavlin": c - z * np.sqrt(19 / (9 * n * 17) + c**2 / 34 * (1 + 6 / 19)),
        "kushler": c * (1 - z / np.sqrt(38)),
    }
    for method, lower in expected.items():
        found = centred_index_interval(c, n, method=method)  # type: ignore[arg-type]
        assert found.lower == pytest.approx(lower, rel=1e-8)
    with pytest.raises(ValueError, match="method must be"):
        centred_index_interval(c, n, method="wald")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="n_values must be a whole number"):
        centred_index_interval(c, 1)
    with pytest.raises(ValueError, match="index must be from"):
        one_sided_index_interval(float("nan"), 20)
    with pytest.raises(ValueError, match="freedom must be above 0"):
        spread_index_interval(1.0, 0.0)
    assert target_index_interval(1.0, 50, 0.0).lower == spread_index_interval(1.0, 50).lower


def test_summary_by_the_values() -> None:
    """Mean, sd and number give what the values give; NIST's example in numbers."""
    values = bissell()
    found = summary_indices(values.mean(), values.std(ddof=1), 75, lower=5.49, upper=5.79)
    whole = capability(
        values, lower=5.49, upper=5.79, sigma=values.std(ddof=1), degrees_of_freedom=74
    )
    for one, other in (
        (found.cp, whole.pp),
        (found.cpk, whole.ppk),
        (found.cpm, target_index(values, lower=5.49, upper=5.79)),
    ):
        assert one is not None
        assert other is not None
        assert one.to_dict() == pytest.approx(other.to_dict(), rel=1e-12)
    assert found.outside == pytest.approx(whole.outside_expected)
    nist = summary_indices(16.0, 2.0, 50, lower=8.0, upper=20.0)
    assert nist.cpu is not None
    assert (nist.cpu.estimate, nist.cpk.estimate) == pytest.approx((0.6667, 0.6667), abs=5e-5)
    half = summary_indices(16.0, 2.0, 50, upper=20.0)
    assert half.cpk == half.cpu == nist.cpu
    assert half.cp is half.cpl is half.cpm is None
    with pytest.raises(ValueError, match="give the lower or the upper limit"):
        summary_indices(16.0, 2.0, 50)


def test_a_target_belongs_to_both_limits() -> None:
    """With one limit there is no Cpm, and a target is refused instead of passed over."""
    with pytest.raises(ValueError, match="leave target out"):
        summary_indices(16.0, 2.0, 50, upper=20.0, target=14.0)
    with pytest.raises(ValueError, match="target must lie within the tolerance"):
        summary_indices(16.0, 2.0, 50, lower=8.0, upper=20.0, target=24.0)


@pytest.mark.parametrize("index", [99.9, -99.9])
def test_far_indices_go_on(index: float) -> None:
    """Where the formula changes, at 100, ends agree to 1 in 100000; far ones take no time."""
    near = one_sided_index_interval(index, 20)
    far = one_sided_index_interval(index * 1.0011, 20)
    assert (far.lower, far.upper) == pytest.approx(
        (near.lower * 1.0011, near.upper * 1.0011), rel=1e-5
    )
    assert one_sided_index_interval(index * 1e4, 20).lower < index * 1e4
