"""Charts that forget slowly how they started: small weights, sums without an allowance."""

from __future__ import annotations

import time
from itertools import islice

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.linalg import eig
from scipy.stats import norm

from weakstep.charts import (
    cusum_law,
    cusum_survival,
    ewma_law,
    ewma_run_length,
    ewma_survival,
    mewma_run_length,
)
from weakstep.charts.ewma_chains import ewma_chain
from weakstep.charts.slow_chains import survivals_of_chain


def by_symmetric_modes(
    weight: float, width: float, shift: float, points: np.ndarray, cells: int
) -> np.ndarray:
    r"""
    Chances of no signal of an EWMA by all modes of its kernel at the middles of cells.

    Weighted means are a reversible process: with :math:`\pi` the density of the mean of a chart
    without limits, :math:`\pi(s) K(s, y) = \pi(y) K(y, s)`, so that the matrix
    :math:`\sqrt{\pi(s) / \pi(y)} K(s, y)` is symmetric and all its modes are found at once.
    """
    limit = width * np.sqrt(weight / (2 - weight))
    edges = np.linspace(-limit, limit, cells + 1)
    places, cell = (edges[1:] + edges[:-1]) / 2, edges[1] - edges[0]
    root = np.sqrt(norm.pdf(places, shift, np.sqrt(weight / (2 - weight))))
    moves = norm.pdf((places - (1 - weight) * places[:, None]) / weight - shift) / weight * cell
    values, modes = np.linalg.eigh(root[:, None] * moves / root)
    first = norm.pdf(places / weight - shift) / weight * cell
    parts = (first / root @ modes) * (root @ modes)
    return np.array([(parts * np.clip(values, 0.0, None) ** (point - 1)).sum() for point in points])


@pytest.mark.parametrize("shift", [0.0, 0.05])
def test_small_weight_by_all_modes(shift: float) -> None:
    """Chances after 100 to 60000 points by another grid and another algebra, to 1e-6."""
    points = np.array([100, 1500, 6000, 20_000, 60_000])
    law = ewma_law(5e-4, 2.8, shift)
    found = np.array([law.survival(int(point)) for point in points])
    # Middles of cells leave an error of the square of the cell; two sizes take it off.
    few, many = (by_symmetric_modes(5e-4, 2.8, shift, points, cells) for cells in (400, 800))
    assert found == pytest.approx((4 * many - few) / 3, abs=1e-6)
    tail = law.left[-1] * law.going_on / (1 - law.going_on)
    assert law.left.sum() + tail == pytest.approx(law.average, rel=1e-6)


def test_least_weight_is_quick() -> None:
    """A weight of 0.0001 takes under 2 s of computing; chances add up to the average."""
    ewma_law(0.01, 3.0)  # imports
    ewma_chain.cache_clear()
    began = time.process_time()
    law = ewma_law(1e-4, 3.0)
    assert time.process_time() - began < 2.0 * 3  # three times the promise, for slow machines
    assert law.average == pytest.approx(ewma_run_length(1e-4, 3.0), rel=1e-12)
    tail = law.left[-1] * law.going_on / (1 - law.going_on)
    assert law.left.sum() + tail == pytest.approx(law.average, rel=1e-6)


def test_weighted_means_in_continuous_time() -> None:
    r"""
    Run lengths times the weight tend to the first exit of an Ornstein-Uhlenbeck process.

    From 0 to :math:`\pm L` (in its own standard deviations) that takes
    :math:`\int_0^L (\Phi(x) - 1/2) / \varphi(x) dx` in units of 1 / weight. A chart looks at whole
    points only, as if its limit were 0.5826 of a step of :math:`\sqrt{2 \lambda}` further away
    (D. Siegmund 1985, Sequential Analysis, Springer); what is left is of the order of the weight.
    """
    for weight, width in ((1e-3, 2.0), (1e-4, 2.0), (1e-4, 2.8)):
        exit_time = quad(
            lambda x: (norm.cdf(x) - 0.5) / norm.pdf(x), 0.0, width + 0.5826 * np.sqrt(2 * weight)
        )[0]
        found = ewma_run_length(weight, width) * weight
        assert found == pytest.approx(exit_time, rel=4 * weight)


@pytest.mark.parametrize("shift", [0.0, 0.02])
def test_sums_without_allowance(shift: float) -> None:
    """The small chain goes on just as the whole one does, over 3000 further points."""
    from weakstep.charts.cusum_chains import Side

    chain = Side(0.0, 120.0, 0.0).chain
    moves = chain.moves(shift)
    alive = np.eye(1, len(moves))[0]
    whole = []
    for _ in range(4000):
        whole.append(alive.sum())
        alive = alive @ moves
    found = list(islice(survivals_of_chain(moves, np.eye(1, len(moves))[0]), 4000))
    assert len(moves) > 200
    assert found == pytest.approx(whole, rel=1e-10)


def test_random_walk_and_its_reflection() -> None:
    """
    A CUSUM without allowance or shift is a reflected random walk: (h + 1.166)^2 points and more.

    Its standard deviation is that of the first exit of Brownian motion, sqrt(2/3) of the mean.
    """
    law = cusum_law(0.0, 300.0, two_sided=False)
    assert law.average == pytest.approx((300 + 1.166) ** 2, rel=1e-3)
    assert law.sd == pytest.approx(np.sqrt(2 / 3) * law.average, rel=1e-3)
    assert law.quantile(0.5) == pytest.approx(0.7576 * law.average, rel=2e-3)


@pytest.mark.parametrize(("weight", "width"), [(0.005, 2.5), (0.3, 0.7)])
def test_settled_law_is_the_leading_mode(weight: float, width: float) -> None:
    """Long after the start the state has the law of the largest eigenvalue (scipy)."""
    chain = ewma_chain(weight, width)
    values, modes = eig(chain.moves(0.0).T)
    leading = np.abs(modes[:, np.argmax(values.real)].real)
    assert chain.settled() == pytest.approx(leading / leading.sum(), abs=1e-11)


def test_limits_that_grow_for_too_long() -> None:
    """A refusal tells what to take instead; the first points of a log are still told."""
    with pytest.raises(ValueError, match="take constant_limits=True"):
        ewma_law(1e-3, 3.0, constant_limits=False)
    left = ewma_survival(60, 1e-4, 2.0, constant_limits=False)
    values = np.random.default_rng(61).normal(size=(20_000, 60))
    means = np.cumsum(values, axis=1) / np.sqrt(np.arange(1, 61))  # so small a weight is a sum
    alive = np.logical_and.accumulate(np.abs(means) <= 2.0, axis=1).mean(axis=0)
    errors = np.sqrt(left * (1 - left) / len(values))
    assert (np.abs(alive - left) < 3.5 * errors + 1e-3).all()


def test_charts_that_never_signal() -> None:
    """A long log under limits that nothing reaches has no alarm, and no warning."""
    assert cusum_survival(5000, 370.0, 100.0)[-1] == pytest.approx(1.0, abs=1e-9)
    assert cusum_survival(5000, 5.0, 90.0)[-1] == pytest.approx(1.0, abs=1e-9)
    assert ewma_survival(5000, 0.002, 12.0)[-1] == pytest.approx(1.0, abs=1e-9)


def test_growing_limits_go_on_as_they_are() -> None:
    """Beyond the points in which limits grow the law and the chances are still the same."""
    law = ewma_law(0.01, 2.5, constant_limits=False)
    left = ewma_survival(1800, 0.01, 2.5, constant_limits=False)  # they grow over 1375 points
    assert [law.survival(n) for n in (1, 800, 1374, 1375, 1376, 1800)] == pytest.approx(
        left[[0, 799, 1373, 1374, 1375, 1799]], rel=1e-9
    )
    tail = law.left[-1] * law.going_on / (1 - law.going_on)
    assert law.left.sum() + tail == pytest.approx(law.average, rel=1e-6)


def test_far_limits_of_several_variables() -> None:
    """Averages beyond 1e12 points are infinite, as on the other charts."""
    assert mewma_run_length(1000.0, 2, 0.1) == np.inf
    assert mewma_run_length(100.0, 2, 0.01) == np.inf
    with pytest.raises(ValueError, match="weight must not be so small for so far a limit"):
        mewma_run_length(1e4, 2, 0.01)
    with pytest.raises(ValueError, match="to compute a run length after a shift"):
        mewma_run_length(100.0, 2, 0.01, 1.0)
