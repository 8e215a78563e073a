"""Two one-sided EWMA charts with a head start: by a chain of cells, by simulation, at the ends."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from weakstep.charts import ewma, ewma_law, ewma_pair, ewma_pair_law, ewma_pair_run_length


def by_cells(weight: float, width: float, share: float, shift: float, cells: int) -> float:
    r"""
    Average run length of the pair by a chain of the upward mean, as D. Brook and D. A. Evans do.

    The upward mean lies in one of *cells* between :math:`-h - s h` and *h*; the downward one is
    :math:`2 s h (1 - \lambda)^i` lower, so that at point *i* the cells below
    :math:`-h + 2 s h (1 - \lambda)^i` signal, the one that this cuts in part.
    """
    limit = width * np.sqrt(weight / (2 - weight))
    edges = np.linspace(-limit, limit, cells + 1)
    middles = (edges[1:] + edges[:-1]) / 2

    def moves(states: np.ndarray) -> np.ndarray:
        kept = (1 - weight) * states[:, None]
        return np.diff(norm.cdf((edges - kept) / weight - shift), axis=1)

    table = moves(middles)
    lengths = np.linalg.solve(np.eye(cells) - table, np.ones(cells))
    alive, left, point = moves(np.array([share * limit]))[0], [1.0], 1
    while True:
        lowest = -limit + 2 * share * limit * (1 - weight) ** point
        alive = alive * np.clip((edges[1:] - lowest) / np.diff(edges), 0.0, 1.0)
        if lowest + limit < 1e-10:
            return float(sum(left) + alive @ lengths)
        left.append(float(alive.sum()))
        alive, point = alive @ table, point + 1


@pytest.mark.parametrize("shift", [0.0, 0.5, 1.0, 2.0])
@pytest.mark.parametrize(("weight", "width", "share"), [(0.1, 2.814, 0.5), (0.25, 2.998, 0.25)])
def test_run_lengths_by_cells(weight: float, width: float, share: float, shift: float) -> None:
    """The integral equation of one mean agrees with cells of the other, to 0.1 %."""
    exact = ewma_pair_run_length(weight, width, shift, head_start_share=share)
    assert exact == pytest.approx(by_cells(weight, width, share, shift, 1001), rel=1e-3)


@pytest.mark.parametrize("two_sided", [True, False])
@pytest.mark.parametrize("shift", [0.0, 0.7, -0.4])
def test_law_by_simulation(shift: float, *, two_sided: bool) -> None:
    """Both recursions as they are written, chance left after each of 30 points (3.5 errors)."""
    weight, width, share = 0.15, 2.2, 0.6
    limit = width * np.sqrt(weight / (2 - weight))
    rng = np.random.default_rng(141)
    up, down = np.full((2, 100_000), share * limit) * [[1.0], [-1.0]]
    alive, found = np.ones(100_000, dtype=bool), []
    for _ in range(30):
        value = rng.normal(shift, size=100_000)
        up, down = (weight * value + (1 - weight) * mean for mean in (up, down))
        alive &= (up <= limit) & ((down >= -limit) | (not two_sided))
        found.append(alive.mean())
    law = ewma_pair_law(weight, width, shift, head_start_share=share, two_sided=two_sided)
    exact = np.array([law.survival(point) for point in range(1, 31)])
    assert (np.abs(np.array(found) - exact) < 3.5 * np.sqrt(exact * (1 - exact) / 1e5)).all()


def test_law_agrees_with_its_average() -> None:
    """Chances point by point, head start and all, add up to what the linear equations say."""
    for sides in (True, False):
        law = ewma_pair_law(0.05, 2.6, 0.3, two_sided=sides)
        tail = law.left[-1] * law.going_on / (1 - law.going_on)
        assert law.left.sum() + tail == pytest.approx(law.average, rel=1e-7)


def test_ends_of_the_head_start() -> None:
    """None is the ordinary chart; with a weight of 1 it is gone at once; more finds sooner."""
    for shift in (0.0, 0.8):
        plain = ewma_law(0.2, 2.86, shift)
        without = ewma_pair_law(0.2, 2.86, shift, head_start_share=0.0)
        assert without.average == pytest.approx(plain.average, rel=1e-9)
        assert without.sd == pytest.approx(plain.sd, rel=1e-9)
    assert ewma_pair_run_length(1.0, 3.0, head_start_share=0.9) == pytest.approx(370.398347)
    assert ewma_pair_run_length(1.0, 3.0, two_sided=False) == pytest.approx(1 / norm.sf(3.0))
    found = [ewma_pair_run_length(0.1, 2.8, 1.0, head_start_share=s) for s in (0.0, 0.25, 0.5)]
    assert found[0] > found[1] > found[2]
    # Turned over, the pair is the same.
    assert ewma_pair_run_length(0.1, 2.8, -1.0) == pytest.approx(found[2], rel=1e-10)


def test_chart_by_its_definition() -> None:
    """Means of both starts, gaps passed over, signals on their own side only."""
    values = np.array([2.0, np.nan, 3.0, 2.5, -9.0])
    pair = ewma_pair(10 + 2 * values, target=10.0, sigma=2.0, weight=0.3, width=2.5)
    limit = 2.5 * np.sqrt(0.3 / 1.7)
    for way, chart in ((1.0, pair.up), (-1.0, pair.down)):
        mean, expected = way * limit / 2, []
        for value in values:
            mean = mean if np.isnan(value) else 0.3 * value + 0.7 * mean
            expected.append(np.nan if np.isnan(value) else 10 + 2 * mean)
        assert chart.values == pytest.approx(np.array(expected), nan_ok=True)
    assert [signal.at for signal in pair.up.signals] == [2, 3]
    assert [signal.at for signal in pair.down.signals] == [4]
    assert pair.up.limits.upper[0] == pytest.approx(10 + 2 * limit)
    assert pair.down.limits.lower[0] == pytest.approx(10 - 2 * limit)
    assert pair.false_alarm == pytest.approx(1 - ewma_pair_law(0.3, 2.5).survival(4))
    assert pair.up.false_alarm < pair.false_alarm < 2 * pair.up.false_alarm
    plain = ewma(values, target=0.0, sigma=1.0, weight=0.3, constant_limits=True)
    without = ewma_pair(values, target=0.0, sigma=1.0, weight=0.3, head_start_share=0.0)
    assert without.up.values == pytest.approx(plain.values, nan_ok=True)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: ewma_pair_law(0.1, 2.8, head_start_share=1.0), "head_start_share must lie from 0"),
        (lambda: ewma_pair_law(0.001, 2.8), r"weight must be at least 0\.005"),
        (lambda: ewma_pair_law(0.1, -1.0), "width must be above 0"),
        (lambda: ewma_pair([1.0], target=0.0, sigma=0.0), "sigma must be above 0"),
    ],
)
def test_refusals(call, words: str) -> None:  # type: ignore[no-untyped-def]
    """One sentence names the argument."""
    with pytest.raises(ValueError, match=words):
        call()
