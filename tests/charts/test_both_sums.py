"""
Two-sided CUSUMs against a Markov chain of both sums at once.

The chain stands on a lattice of width w = 1/n for odd n, on which k = 0.5, all limits h (odd
multiples of 0.5) and the limit for single values c = 3 fall on ends of cells, as in D. Brook and
D. A. Evans (1972), Biometrika 59, 539-549. Its error falls as w squared; three widths remove that
and the next term. It supposes nothing about the other sum at a signal.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.sparse import csr_array, eye_array
from scipy.sparse.linalg import spsolve
from scipy.stats import norm

from weakstep.charts import cusum_law, cusum_run_length


def lattice_average(n: int, up: float, down: float, shift: float, single: float | None) -> float:
    """Average run length of both sums (k 0.5 each) on a lattice of width 1/n, from (0, 0)."""
    most_up, most_down = round(up * n - 0.5), round(down * n - 0.5)
    reach = 9 * n
    gains = np.arange(-reach, reach + 1)  # of the upward sum: value less k, in widths
    values = gains / n + 0.5
    edges = np.append(values - 0.5 / n, np.inf)
    edges[0] = -np.inf
    chances = np.diff(norm.cdf(edges - shift))
    if single is not None:
        chances = np.where(np.abs(values) < single, chances, 0.0)
    states, rows, columns, weights = {(0, 0): 0}, [], [], []
    queue = [(0, 0)]
    for i, j in queue:
        higher = np.maximum(0, i + gains)
        lower = np.maximum(0, j - gains - n)  # less k up and k down
        going = (higher <= most_up) & (lower <= most_down) & (chances > 1e-18)
        row = states[i, j]
        for a, b, weight in zip(higher[going], lower[going], chances[going], strict=True):
            if (a, b) not in states:
                states[a, b] = len(states)
                queue.append((a, b))
            rows.append(row)
            columns.append(states[a, b])
            weights.append(weight)
    size = len(states)
    moves = csr_array((weights, (rows, columns)), shape=(size, size))
    system = (eye_array(size, format="csc") - moves.tocsc()).tocsc()
    return float(spsolve(system, np.ones(size))[0])


def by_both_sums(up: float, down: float, shift: float, single: float | None = None) -> float:
    """Average of infinitely narrow cells, from three widths."""
    widths = np.array([3, 5, 7])
    found = [lattice_average(int(n), up, down, shift, single) for n in widths]
    square = 1.0 / widths**2
    return float(np.linalg.solve(np.column_stack([square**0, square, square**2]), found)[0])


@pytest.mark.parametrize(
    ("up", "down", "shift", "single", "close"),
    [
        (2.5, 2.5, 0.0, None, 2e-5),
        (2.5, 3.5, 0.0, None, 2e-5),
        (3.5, 2.5, 0.7, None, 2e-5),
        (3.5, 3.5, 0.0, 3.0, 2e-5),
        (3.5, 3.5, 1.0, 3.0, 2e-5),
        # Here the other sum may stand above 0 at a signal, and the join is no longer exact.
        (2.5, 5.5, 0.0, None, 1e-4),
        (2.5, 5.5, -0.5, None, 1e-4),
        (4.5, 4.5, 0.0, 3.0, 1e-4),
        (4.5, 4.5, 0.5, 3.0, 1e-4),
        (1.5, 5.5, -0.5, None, 4e-3),
        (0.5, 5.5, -0.5, None, 3e-2),
    ],
)
def test_join_of_both_sides(
    up: float, down: float, shift: float, single: float | None, close: float
) -> None:
    """Exact where the docstring says so, and as close as it says elsewhere."""
    joined = cusum_run_length(0.5, (up, down), shift, shewhart_limit=single)
    assert joined == pytest.approx(by_both_sums(up, down, shift, single), rel=close)


@pytest.mark.parametrize(("steady", "single"), [(False, None), (True, None), (True, 2.5)])
def test_unequal_sides_by_simulation(steady: bool, single: float | None) -> None:
    """Other k, h and head starts up and down, chance left after each of 25 points (3.5 errors)."""
    rng = np.random.default_rng(21)
    k, h = (0.25, 0.5), (3.0, 2.2)
    start = (0.0, 0.0) if steady else (1.5, 0.7)
    up, down = np.full(120_000, start[0]), np.full(120_000, start[1])
    most = np.inf if single is None else single
    for _ in range(15 if steady else 0):
        value = rng.normal(size=len(up))
        up, down = np.maximum(0, up + value - k[0]), np.maximum(0, down - value - k[1])
        kept = (up <= h[0]) & (down <= h[1]) & (np.abs(value) <= most)
        up, down = up[kept], down[kept]
    count, alive, left = len(up), np.ones(len(up), dtype=bool), []
    for _ in range(25):
        value = rng.normal(0.6, size=count)
        up, down = np.maximum(0, up + value - k[0]), np.maximum(0, down - value - k[1])
        alive &= (up <= h[0]) & (down <= h[1]) & (np.abs(value) <= most)
        left.append(alive.mean())
    law = cusum_law(k, h, 0.6, head_start=start, steady_state=steady, shewhart_limit=single)
    exact = np.array([law.survival(point) for point in range(1, 26)])
    errors = np.sqrt(exact * (1 - exact) / count)
    assert (np.abs(np.array(left) - exact) < 3.5 * errors).all()


def test_turning_the_chart_over_turns_its_sides() -> None:
    """Sides exchanged and the shift turned give the same law."""
    one = cusum_law((0.25, 0.75), (6.0, 4.0), 0.3, head_start=(3.0, 0.0))
    other = cusum_law((0.75, 0.25), (4.0, 6.0), -0.3, head_start=(0.0, 3.0))
    assert one.average == pytest.approx(other.average, rel=1e-12)
    assert one.survival(20) == pytest.approx(other.survival(20), rel=1e-12)
    alike = cusum_law((0.5, 0.5), (5.0, 5.0), 0.3, steady_state=True)
    assert alike.average == cusum_law(0.5, 5.0, 0.3, steady_state=True).average
