"""T2 and MEWMA: limits by simulation, contributions, gaps, refusals."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.charts.mewma import mewma_chart
from weakstep.charts.mewma_run_lengths import mewma_run_length
from weakstep.charts.multivariate import Baseline, baseline, distances, subgroup_baseline, t2_chart
from weakstep.charts.multivariate_limits import t2_limit
from weakstep.errors import NotEnoughError

MIX = np.array([[1.0, 0.0, 0.0], [0.8, 0.6, 0.0], [0.2, -0.3, 1.5]])


def draws(seed: int, *shape: int) -> np.ndarray:
    """Correlated normal observations of three variables."""
    return np.random.default_rng(seed).normal(size=(*shape, 3)) @ MIX.T + [1.0, 50.0, -3.0]


@pytest.mark.parametrize("phase", ["baseline", "monitoring"])
def test_limits_of_single_observations(phase: str) -> None:
    """5 % of stable points pass the 5 % limit, in the baseline and after it."""
    hits, count = 0, 0
    for seed in range(400):
        table = draws(seed, 25)
        base = baseline(table)
        points = table if phase == "baseline" else draws(seed + 10_000, 25)
        chart = t2_chart(points, base, false_alarm=0.05, phase=phase).chart  # type: ignore[arg-type]
        hits += len(chart.signals)
        count += 25
    # Points that share a baseline are alike: 400 baselines, not 10000 points, bound the error.
    assert hits / count == pytest.approx(0.05, abs=0.012)


@pytest.mark.parametrize("phase", ["baseline", "monitoring"])
def test_limits_of_subgroups(phase: str) -> None:
    """The same for means of subgroups of 4."""
    hits, count = 0, 0
    for seed in range(400):
        cube = draws(seed, 12, 4)
        base = subgroup_baseline(cube)
        points = cube if phase == "baseline" else draws(seed + 10_000, 12, 4)
        chart = t2_chart(points.mean(axis=1), base, false_alarm=0.05, phase=phase).chart  # type: ignore[arg-type]
        hits += len(chart.signals)
        count += 12
    assert hits / count == pytest.approx(0.05, abs=0.014)


def test_contributions_are_drops_of_the_distance() -> None:
    """Each equals the distance less the distance computed without that variable."""
    table = draws(1, 30)
    base = baseline(table)
    found = t2_chart(table, base, phase="baseline")
    for left_out in range(3):
        kept = [i for i in range(3) if i != left_out]
        fewer, _ = distances((table - base.centre)[:, kept], base.covariance[np.ix_(kept, kept)])
        assert found.contributions[:, left_out] == pytest.approx(found.chart.values - fewer)


def test_scale_of_a_variable_does_not_matter() -> None:
    """T2 and contributions stay when variables change their unit and origin."""
    table = draws(2, 30)
    other = table * [25.4, 0.001, -7.0] + [3.0, 0.0, 100.0]
    first, second = (t2_chart(t, baseline(t), phase="baseline") for t in (table, other))
    assert second.chart.values == pytest.approx(first.chart.values)
    assert second.contributions == pytest.approx(first.contributions)


def test_differences_of_neighbours_resist_a_shift() -> None:
    """A shift halfway inflates the plain covariance, hardly that of differences."""
    table = draws(3, 200)
    table[100:, 0] += 6.0
    plain, robust = baseline(table), baseline(table, by_differences=True)
    assert plain.covariance[0, 0] > 5.0
    assert robust.covariance[0, 0] == pytest.approx(1.0, abs=0.5)


def test_mewma_run_length_by_simulation() -> None:
    """The integral equation agrees with 3000 simulated charts of 3 variables within 3 errors."""
    weight, limit = 0.2, 6.0
    rng = np.random.default_rng(4)
    z, first = np.zeros((3000, 3)), np.zeros(3000)
    for point in range(1, 400):
        z = weight * rng.normal(size=z.shape) + (1 - weight) * z
        beyond = (z**2).sum(axis=1) * (2 - weight) / weight > limit
        first[(first == 0) & beyond] = point
    assert (first > 0).all()
    exact = mewma_run_length(limit, 3, weight)
    assert first.mean() == pytest.approx(exact, abs=3 * first.std() / np.sqrt(3000))


def test_mewma_finds_a_small_shift_and_names_the_variable() -> None:
    """A shift of one sigma in the third variable signals, and it contributes most."""
    known = Baseline(np.zeros(3), np.eye(3), 0)
    points = np.random.default_rng(5).normal(size=(80, 3))
    points[40:, 2] += 1.0
    found = mewma_chart(points, known)
    later = [signal.at for signal in found.chart.signals if signal.at >= 40]
    assert later
    assert found.contributions[later[-1]].argmax() == 2


def test_gaps_are_passed_over() -> None:
    """A row with a missing value has no distance and changes nothing after it."""
    known = Baseline(np.zeros(3), np.eye(3), 0)
    points = np.random.default_rng(6).normal(size=(10, 3))
    holed = np.insert(points, 4, [np.nan, 1.0, 1.0], axis=0)
    for chart_of in (t2_chart, mewma_chart):
        whole, gapped = (
            chart_of(points, known).chart
            if chart_of is mewma_chart
            else t2_chart(points, known, phase="known").chart,
            (
                mewma_chart(holed, known)
                if chart_of is mewma_chart
                else t2_chart(holed, known, phase="known")
            ).chart,
        )
        assert np.isnan(gapped.values[4])
        assert np.delete(gapped.values, 4) == pytest.approx(whole.values)


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda: baseline(draws(7, 3)), NotEnoughError, "more than 3 complete rows"),
        (lambda: baseline(np.c_[draws(7, 9), np.ones(9)]), NotEnoughError, "does not vary"),
        (
            lambda: baseline(draws(7, 9)[:, [0, 1, 0]]),
            NotEnoughError,
            "sums or multiples of others",
        ),
        (
            lambda: t2_chart([[1.0]], Baseline(np.zeros(2), np.eye(2), 0)),
            ValueError,
            "1 variables, the baseline has 2",
        ),
        (lambda: t2_limit(3, phase="monitoring", n_points=4), NotEnoughError, "too few"),
        (lambda: subgroup_baseline(draws(7, 9)), ValueError, "subgroups"),
    ],
)
def test_impossible_requests_are_refused(call, error: type[Exception], words: str) -> None:  # type: ignore[no-untyped-def]
    """Each says what is missing."""
    with pytest.raises(error, match=words):
        call()
