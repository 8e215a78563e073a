"""Tolerances: indices on the scale that suits, intervals that cover, refusals."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.charts.capability_indices import capability
from weakstep.charts.model import Limits
from weakstep.charts.percentiles import normal_scale_quantiles, percentile_indices
from weakstep.charts.tolerance import judge_tolerance
from weakstep.charts.variables import individuals


def limits_of(values: np.ndarray, log_scale: bool = False) -> Limits:
    """Limits of the individuals chart."""
    return individuals(values, log_scale=log_scale)[0].limits


def test_normal_values_have_the_indices_of_capability() -> None:
    """On the plain scale nothing but `capability` is stated."""
    values = np.random.default_rng(1).normal(50.0, 2.0, size=80)
    limits = limits_of(values)
    found = judge_tolerance(values, lower=44.0, upper=57.0, limits=limits)
    plain = capability(
        values, lower=44.0, upper=57.0, sigma=limits.sigma,
        degrees_of_freedom=limits.degrees_of_freedom,
    )  # fmt: skip
    assert (found.cp, found.cpk, found.pp, found.ppk) == (
        plain.cp, plain.cpk, plain.pp, plain.ppk,
    )  # fmt: skip
    assert (found.method, found.n_values) == ("normal", 80)
    assert found.outside == int(((values < 44.0) | (values > 57.0)).sum())


def test_skewed_values_have_the_indices_of_percentiles() -> None:
    """Logarithms: Pp and Ppk are those of the quantiles, the share outside that of a lognormal."""
    values = np.exp(np.random.default_rng(2).normal(1.0, 0.4, size=200))
    found = judge_tolerance(
        values, lower=0.5, upper=9.0, limits=limits_of(values, True), on_log_scale=True
    )
    exact = percentile_indices(normal_scale_quantiles(values, 0.0), lower=0.5, upper=9.0)
    assert found.pp is not None
    assert found.pp.estimate == pytest.approx(exact.pp, rel=1e-4)
    assert found.ppk is not None
    assert found.ppk.estimate == pytest.approx(exact.ppk, rel=1e-4)
    logs = np.log(values)
    z = (np.log([0.5, 9.0]) - logs.mean()) / logs.std(ddof=1)
    from scipy.stats import norm

    assert found.outside_expected == pytest.approx(norm.cdf(z[0]) + norm.sf(z[1]), rel=1e-6)
    assert found.method == "logarithms"
    assert found.cpk is not None


def test_square_of_normal_values_is_taken_on_a_power_scale() -> None:
    """Where the plain scale is refused and the chart is plain, Box and Cox find the power."""
    values = np.random.default_rng(3).normal(4.0, 1.0, size=400) ** 2 + 0.5
    found = judge_tolerance(values, lower=None, upper=45.0, limits=limits_of(values))
    assert found.method.startswith("power 0.")
    assert found.pp is None
    assert found.ppk is not None
    assert found.ppk.lower < found.ppk.estimate < found.ppk.upper


def test_intervals_of_percentile_indices_cover() -> None:
    """Of 300 lognormal samples of 40, 95 % of the Ppk intervals hold the true index (3 errors)."""
    low, middle, high = np.exp(0.3 * np.array([-3.0, 0.0, 3.0]))
    true = min((middle - 0.3) / (middle - low), (2.8 - middle) / (high - middle))
    rng, covered = np.random.default_rng(4), []
    for _ in range(300):
        values = np.exp(rng.normal(0.0, 0.3, size=40))
        found = judge_tolerance(
            values, lower=0.3, upper=2.8, limits=limits_of(values, True), on_log_scale=True
        )
        assert found.ppk is not None
        covered.append(found.ppk.lower <= true <= found.ppk.upper)
    assert np.mean(covered) == pytest.approx(0.95, abs=3 * np.sqrt(0.05 * 0.95 / 300))


def test_refusals_say_why_and_still_count() -> None:
    """A parameter that moved, or with too few values, has no index; what lies outside is told."""
    values = np.r_[np.full(20, 5.0) + np.arange(20) % 3, np.nan]
    moved = judge_tolerance(
        values, lower=None, upper=6.5, limits=limits_of(values), moved="a step since run 9"
    )
    assert moved.refused is not None
    assert "not stable: a step since run 9" in moved.refused
    assert (moved.ppk, moved.outside, moved.n_values) == (None, 6, 20)
    few = judge_tolerance(values[:5], lower=0.0, upper=None, limits=limits_of(values))
    assert few.refused is not None
    assert "at least 10 values that vary; 5 logged" in few.refused
    with pytest.raises(ValueError, match="must lie below the upper"):
        judge_tolerance(values, lower=2.0, upper=1.0, limits=limits_of(values))


@pytest.mark.parametrize(("shift", "scale"), [(0.0, 3.0), (40.0, 0.5)])
def test_another_unit_changes_no_index(shift: float, scale: float) -> None:
    """Indices have no unit."""
    values = np.random.default_rng(6).normal(20.0, 1.5, size=60)
    first, second = (
        judge_tolerance(data, lower=ends[0], upper=ends[1], limits=limits_of(data))
        for data, ends in (
            (values, (15.0, 26.0)),
            (shift + scale * values, (shift + scale * 15.0, shift + scale * 26.0)),
        )
    )
    assert first.ppk is not None
    assert second.ppk is not None
    assert second.ppk.estimate == pytest.approx(first.ppk.estimate)
    assert second.ppk.lower == pytest.approx(first.ppk.lower)
    assert second.outside_expected == pytest.approx(first.outside_expected)
