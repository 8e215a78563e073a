"""Combined Shewhart-CUSUM and Shewhart-EWMA charts: run lengths and signals by other roads."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from weakstep.charts import (
    cusum,
    cusum_decision,
    cusum_law,
    cusum_run_length,
    cusum_survival,
    ewma,
    ewma_law,
    ewma_run_length,
    ewma_survival,
    ewma_width,
    shewhart_width,
)


def by_cells(
    low: float,
    kept: float,
    gain: float,
    limits: tuple[float, float],
    single: float,
    shift: float,
) -> float:
    """
    Average run length of s' = kept s + gain (x - low) cut to its limits, x within *single*.

    A chain of 1200 cells of equal width, refined by one of 600: the density is cut off cell by
    cell, so that the error falls with the width.
    """
    found = []
    for count in (600, 1200):
        edges = np.linspace(*limits, count + 1)
        middles = (edges[1:] + edges[:-1]) / 2
        start = int(np.argmin(np.abs(middles)))
        value = (edges - kept * middles[:, None]) / gain + low
        value[:, 0] = -np.inf if limits[0] == 0.0 else value[:, 0]
        reached = norm.cdf(np.clip(value, -np.inf if limits[0] == 0.0 else -single, single) - shift)
        moves = np.diff(reached, axis=1)
        lengths = np.linalg.solve(np.eye(count) - moves, np.ones(count))
        found.append(lengths[start])
    return float(2 * found[1] - found[0])


@pytest.mark.parametrize("shift", [0.0, 0.5, 1.0, 3.0])
@pytest.mark.parametrize(("decision", "single"), [(4.0, 3.5), (5.0, 3.0)])
def test_one_sided_shewhart_cusum_by_cells(decision: float, single: float, shift: float) -> None:
    """The integral equation with a cut agrees with a chain of many cells to 0.1 %."""
    exact = cusum_run_length(0.5, decision, shift, two_sided=False, shewhart_limit=single)
    assert exact == pytest.approx(by_cells(0.5, 1.0, 1.0, (0.0, decision), single, shift), rel=1e-3)


@pytest.mark.parametrize("shift", [0.0, 1.0, 3.0])
@pytest.mark.parametrize(("weight", "width", "single"), [(0.1, 2.814, 3.5), (0.25, 2.998, 4.0)])
def test_shewhart_ewma_by_cells(weight: float, width: float, single: float, shift: float) -> None:
    """The same for weighted means, both sides."""
    limit = width * np.sqrt(weight / (2 - weight))
    cells = by_cells(0.0, 1 - weight, weight, (-limit, limit), single, shift)
    exact = ewma_run_length(weight, width, shift, shewhart_limit=single)
    assert exact == pytest.approx(cells, rel=1e-3)


@pytest.mark.parametrize(("growing", "start"), [(False, 0.0), (False, 0.4), (True, 0.0)])
def test_shewhart_ewma_by_simulation(*, growing: bool, start: float) -> None:
    """Chance left after each of 20 points, 100000 charts, within 3.5 standard errors."""
    rng = np.random.default_rng(31)
    weight, width, single, shift = 0.2, 2.2, 2.5, 0.8
    state, alive, left = np.full(100_000, start), np.ones(100_000, dtype=bool), []
    for point in range(1, 21):
        value = rng.normal(shift, size=len(state))
        state = weight * value + (1 - weight) * state
        share = 1 - (1 - weight) ** (2 * point) if growing else 1.0
        limit = width * np.sqrt(weight / (2 - weight) * share)
        alive &= (np.abs(state) <= limit) & (np.abs(value) <= single)
        left.append(alive.mean())
    law = ewma_law(
        weight, width, shift, constant_limits=not growing, head_start=start, shewhart_limit=single
    )
    exact = np.array([law.survival(point) for point in range(1, 21)])
    assert (np.abs(np.array(left) - exact) < 3.5 * np.sqrt(exact * (1 - exact) / 1e5)).all()
    if not start:
        points = ewma_survival(
            20, weight, width, shift, constant_limits=not growing, shewhart_limit=single
        )
        assert points == pytest.approx(exact, rel=1e-12)


def test_steady_state_of_a_combined_chart_by_simulation() -> None:
    """A shift of 1 sigma after 30 stable points without a signal, within 3 standard errors."""
    rng = np.random.default_rng(32)
    state = np.zeros(60_000)
    for _ in range(30):
        value = rng.normal(size=len(state))
        state = 0.2 * value + 0.8 * state
        state = state[(np.abs(state) <= 2.5 / 3) & (np.abs(value) <= 3.0)]
    lengths, alive = np.zeros(len(state)), np.ones(len(state), dtype=bool)
    for _ in range(400):
        lengths += alive
        value = rng.normal(1.0, size=len(state))
        state = 0.2 * value + 0.8 * state
        alive &= (np.abs(state) <= 2.5 / 3) & (np.abs(value) <= 3.0)
    assert not alive.any()
    exact = ewma_run_length(0.2, 2.5, 1.0, steady_state=True, shewhart_limit=3.0)
    assert lengths.mean() == pytest.approx(exact, abs=3 * lengths.std() / np.sqrt(len(lengths)))


def test_ends_between_the_two_charts() -> None:
    """A far single limit is the plain chart, a far memory the Shewhart chart; both only shorten."""
    assert cusum_run_length(0.5, 5.0, shewhart_limit=9.0) == pytest.approx(
        cusum_run_length(0.5, 5.0), rel=1e-9
    )
    assert ewma_run_length(0.1, 2.7, shewhart_limit=9.0) == pytest.approx(
        ewma_run_length(0.1, 2.7), rel=1e-9
    )
    assert ewma_run_length(1.0, 6.0, shewhart_limit=3.0) == pytest.approx(370.398347, rel=1e-8)
    # Means of values within 2 never reach 6 standard deviations.
    assert ewma_run_length(0.5, 6.0, 0.3, shewhart_limit=2.0) == pytest.approx(
        1 / (norm.sf(1.7) + norm.cdf(-2.3)), rel=1e-9
    )
    assert cusum_run_length(0.5, 3.0, 1.0, shewhart_limit=3.5) == pytest.approx(
        cusum_run_length(0.5, 3.0, 1.0), rel=1e-12
    )
    for far in (40.0, 100.0):  # panels of the far one are cut up, so that memory suffices
        found = cusum_run_length(0.5, far, shewhart_limit=3.0)
        assert found == pytest.approx(370.398347, rel=1e-6)
    for shift in (0.0, 1.0, 3.0):
        both = cusum_run_length(0.5, 5.0, shift, shewhart_limit=3.5)
        assert both < cusum_run_length(0.5, 5.0, shift)
        assert both < 1 / (norm.sf(3.5 - shift) + norm.cdf(-3.5 - shift))


def test_limits_of_combined_charts() -> None:
    """The memory's limit makes up for the single one, so that the run length is kept."""
    limit = cusum_decision(0.5, run_length=370.0, shewhart_limit=3.5)
    assert limit > cusum_decision(0.5, run_length=370.0)
    assert cusum_run_length(0.5, limit, shewhart_limit=3.5) == pytest.approx(370.0, rel=1e-5)
    width = ewma_width(0.1, family_wise=0.05, n_points=50, shewhart_limit=4.5)
    assert 1 - ewma_survival(50, 0.1, width, shewhart_limit=4.5)[-1] == pytest.approx(
        0.05, rel=1e-4
    )
    with pytest.raises(ValueError, match="shewhart_limit alone signals sooner"):
        ewma_width(0.1, run_length=400.0, shewhart_limit=3.0)
    with pytest.raises(ValueError, match="shewhart_limit alone signals sooner"):
        cusum_decision(0.5, family_wise=0.05, n_points=50, n_charts=10, shewhart_limit=3.0)


def test_single_values_signal_on_the_chart() -> None:
    """A wild value that leaves the sums within their limits is told, on its own side."""
    values = np.zeros(30)
    values[[7, 20]] = 3.6, -4.0
    sums = cusum(values, target=0.0, sigma=1.0, decision=6.0, shewhart_limit=3.5)
    assert [(s.pattern, s.at) for s in sums.up.signals] == [("value_beyond_limit", 7)]
    assert [(s.pattern, s.at) for s in sums.down.signals] == [("value_beyond_limit", 20)]
    left = cusum_survival(30, 0.5, 6.0, two_sided=True, shewhart_limit=3.5)[-1]
    assert sums.false_alarm == pytest.approx(1 - left)
    means = ewma(values, target=0.0, sigma=1.0, weight=0.05, shewhart_limit=3.5)
    assert [(s.pattern, s.at) for s in means.signals] == [
        ("value_beyond_limit", 7), ("value_beyond_limit", 20),
    ]  # fmt: skip
    # A value on its limit is not beyond it.
    assert cusum([3.5], target=0.0, sigma=1.0, shewhart_limit=3.5).up.signals == ()


def test_unequal_sides_of_a_chart() -> None:
    """Each side has its own allowance, limit and head start."""
    sums = cusum(
        [10.0, 12.0], target=10.0, sigma=2.0, allowance=(0.5, 0.25), decision=(4.0, 6.0),
        head_start=(2.0, 0.0),
    )  # fmt: skip
    assert sums.up.values.tolist() == [3.0, 4.0]
    assert sums.down.values.tolist() == [0.0, 0.0]
    assert (sums.up.limits.upper[0], sums.down.limits.upper[0]) == (8.0, 12.0)
    law = cusum_law((0.5, 0.25), (4.0, 6.0), head_start=(2.0, 0.0))
    assert sums.false_alarm == pytest.approx(1 - law.survival(2))


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: cusum_run_length((0.5, 0.5, 0.5), 4.0), "allowance must be one number or a pair"),
        (lambda: cusum_run_length(0.5, (4.0, 0.0)), "decision above 0"),
        (lambda: cusum_run_length(0.5, 4.0, float("nan")), "shift must be finite"),
        (lambda: cusum_run_length("0.5", 4.0), "allowance must be finite"),
        (lambda: cusum_run_length(0.5, 4.0, shewhart_limit=0.0), "shewhart_limit must be above 0"),
        (lambda: ewma_run_length(0.1, 3.0, shewhart_limit=-1), "shewhart_limit must be above 0"),
        (lambda: ewma_run_length(1e-6, 3.0), "weight must not be so small"),
        (lambda: cusum_run_length(0.5, 1e4), "decision above 0 and at most 500"),
    ],
)
def test_refusals(call, words: str) -> None:  # type: ignore[no-untyped-def]
    """One sentence names the argument."""
    with pytest.raises(ValueError, match=words):
        call()


def test_width_of_the_single_limit() -> None:
    """The chance a point of a limit for single values is that of the Shewhart chart."""
    width = shewhart_width(run_length=500.0)
    assert cusum_run_length(0.5, 60.0, shewhart_limit=width) == pytest.approx(500.0, rel=1e-5)
