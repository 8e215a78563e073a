"""
Pearson curves against known distributions, their own differential equation and a printed table.

Standardised 99.865 % points of symmetrical curves, kurtosis -1.4 to 2 in steps of 0.2: J. A.
Clements (1989), Quality Progress 22(9), 95-100, table 1a (there for skewness 0), from memory.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.integrate import quad

from weakstep.charts import pearson_curve, pearson_performance, percentile_indices
from weakstep.errors import NotEnoughError

LEVELS = (0.00135, 0.02, 0.3, 0.5, 0.8, 0.98, 0.99865)
CLEMENTS = (
    1.512, 1.727, 1.966, 2.210, 2.442, 2.653, 2.839, 3.000, 3.140, 3.261, 3.366, 3.458, 3.539,
    3.611, 3.674, 3.731, 3.782, 3.828,
)  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "law"),
    [
        ("normal", stats.norm(2.0, 3.0)),
        ("I", stats.beta(2.0, 5.0)),
        ("I", stats.beta(5.0, 2.0)),
        ("I", stats.beta(0.4, 0.7)),
        ("I", stats.uniform()),
        ("III", stats.gamma(2.5)),
        ("III", stats.expon()),
        ("IV", stats.t(7.0)),
        ("IV", stats.t(300.0)),
        ("V", stats.invgamma(9.0)),
        ("VI", stats.betaprime(3.0, 12.0)),
        ("VI", stats.f(8.0, 20.0)),
        ("VI", stats.betaprime(3000.0, 12.0)),
    ],
)
def test_known_distributions(kind: str, law: stats.rv_continuous) -> None:
    """Each family comes back from its four moments, to nine digits (scipy)."""
    mean, variance, skewness, kurtosis = (float(one) for one in law.stats("mvsk"))
    curve = pearson_curve(mean, variance**0.5, skewness, kurtosis)
    assert curve.kind == kind
    found = np.array([curve.quantile(level) for level in LEVELS])
    assert (found - mean) / variance**0.5 == pytest.approx(
        (law.ppf(LEVELS) - mean) / variance**0.5, abs=1e-9
    )


def test_printed_table() -> None:
    """Symmetrical curves, three decimals."""
    for kurtosis, printed in zip(np.arange(-14, 21, 2) / 10, CLEMENTS, strict=True):
        found = pearson_curve(0.0, 1.0, 0.0, float(kurtosis)).quantile(0.99865)
        assert found == pytest.approx(printed, abs=5.1e-4)


def density_of(skewness: float, kurtosis: float) -> Callable[[float], float]:
    """Solution of Pearson's equation, not scaled, by integrating it step by step from 0."""
    square, beta = skewness**2, kurtosis + 3
    b0, b1, b2 = 4 * beta - 3 * square, skewness * (beta + 3), 2 * beta - 3 * square - 6
    slope = 10 * beta - 12 * square - 18

    def density(x: float) -> float:
        part = quad(lambda y: (slope * y + b1) / (b0 + b1 * y + b2 * y * y), 0.0, x, limit=200)
        return float(np.exp(-part[0]))

    return density


@pytest.mark.parametrize(("skewness", "kurtosis"), [(0.5, 1.0), (-0.8, 2.5), (1.0, 2.8)])
def test_skewed_curves_without_bounds(skewness: float, kurtosis: float) -> None:
    """Type IV, which scipy lacks: moments and chances by integrating the equation itself."""
    curve = pearson_curve(0.0, 1.0, skewness, kurtosis)
    assert curve.kind == "IV"
    density = density_of(skewness, kurtosis)
    whole = quad(density, -60, 60, limit=400, points=[-3, 0, 3])[0]
    for power, moment in ((1, 0.0), (2, 1.0), (3, skewness)):
        found = quad(lambda x, p=power: x**p * density(x), -60, 60, limit=400, points=[-3, 0, 3])[0]
        assert found / whole == pytest.approx(moment, abs=5e-3)  # tails beyond 60 sd
    for level in (0.00135, 0.3, 0.99865):
        below = quad(density, -60, curve.quantile(level), limit=400, points=[-3.0])[0]
        assert below / whole == pytest.approx(level, rel=1e-4)


@settings(derandomize=True, deadline=None, max_examples=80)
@given(st.floats(-2.0, 2.0), st.floats(0.05, 6.0), st.floats(-1e3, 1e3), st.floats(1e-3, 1e3))
def test_quantiles_rise_turn_and_scale(
    skewness: float, above: float, mean: float, sd: float
) -> None:
    """Whatever the type: never falling, mirrored with the skewness, and in the unit."""
    kurtosis = skewness**2 - 2.0 + above
    plain = pearson_curve(0.0, 1.0, skewness, kurtosis)
    found = np.array([plain.quantile(level) for level in LEVELS])
    assert (np.diff(found) > -1e-12).all()
    assert found[0] < found[-1]
    turned = pearson_curve(0.0, 1.0, -skewness, kurtosis)
    mirrored = [-turned.quantile(1.0 - level) for level in LEVELS]
    assert found == pytest.approx(mirrored, rel=1e-7, abs=1e-9)
    scaled = pearson_curve(mean, sd, skewness, kurtosis)
    assert [scaled.quantile(level) for level in LEVELS] == pytest.approx(mean + sd * found)


@pytest.mark.parametrize("skewness", [0.1, 0.9, 1.8])
def test_types_join_without_a_step(skewness: float) -> None:
    """Across the lines of types III and V quantiles change by as little as the kurtosis does."""
    square = skewness**2
    gamma = 1.5 * square
    # Type V: b1^2 = 4 b0 b2, a quadratic in the kurtosis; its root above the gamma line.
    beta = np.linspace(gamma + 1e-6, gamma + 20.0, 400_001) + 3.0
    left = square * (beta + 3) ** 2 - 4 * (4 * beta - 3 * square) * (2 * beta - 3 * square - 6)
    double = float(beta[np.argmin(np.abs(left))]) - 3.0
    for line in (gamma, double):
        for level in (0.00135, 0.5, 0.99865):
            near = [
                pearson_curve(0.0, 1.0, skewness, line + step).quantile(level)
                for step in (-1e-4, -1e-7, 1e-7, 1e-4)
            ]
            assert np.ptp(near) < 3e-4
            assert abs(near[2] - near[1]) < 1e-6


def test_performance_of_values() -> None:
    """Indices are those of the percentiles of the curve with the moments of the values (scipy)."""
    values = np.random.default_rng(161).gamma(4.0, size=300)
    found = pearson_performance(np.append(values, np.nan), lower=0.2, upper=15.0)
    curve = pearson_curve(
        values.mean(), values.std(ddof=1), stats.skew(values), stats.kurtosis(values)
    )
    assert found.quantiles == pytest.approx([curve.quantile(q) for q in (0.00135, 0.5, 0.99865)])
    assert found.indices == percentile_indices(found.quantiles, lower=0.2, upper=15.0)
    turned = pearson_performance(5.0 - 2.0 * values, lower=-25.0, upper=4.6)
    assert turned.indices.pp == pytest.approx(found.indices.pp)
    assert turned.indices.ppk == pytest.approx(found.indices.ppk)
    assert pearson_performance(values, upper=15.0).indices.pp is None


def test_performance_of_many_values() -> None:
    """Of 100000 gamma values (seed 162) the index is that of their true quantiles, to 5 %."""
    law = stats.gamma(4.0)
    values = law.rvs(100_000, random_state=np.random.default_rng(162))
    low, middle, high = law.ppf([0.00135, 0.5, 0.99865])
    true = percentile_indices((low, middle, high), lower=0.3, upper=14.0)
    found = pearson_performance(values, lower=0.3, upper=14.0).indices
    assert found.ppk == pytest.approx(true.ppk, rel=0.05)  # about 5 standard errors
    assert found.pp == pytest.approx(true.pp, rel=0.05)


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda: pearson_curve(0.0, 1.0, 1.0, -1.0), ValueError, r"squared less 2 \(-1\), got -1"),
        (lambda: pearson_curve(0.0, 0.0, 1.0, 1.0), ValueError, "sd must be above 0"),
        (lambda: pearson_curve(0.0, 1.0, 0.0, 0.0).quantile(1.0), ValueError, "level must lie"),
        (lambda: pearson_performance(range(49), upper=60.0), NotEnoughError, "49 logged"),
        (
            lambda: pearson_performance([1.0, 2.0] * 40, upper=3.0),
            NotEnoughError,
            "hardly more than two different",
        ),
        (lambda: pearson_performance(range(60)), ValueError, "give the lower or the upper"),
    ],
)
def test_refusals(call, error: type[Exception], words: str) -> None:  # type: ignore[no-untyped-def]
    """One sentence tells what is wrong or missing."""
    with pytest.raises(error, match=words):
        call()
