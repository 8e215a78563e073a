"""Patterns that compare neighbours: exact, against counting, refinement and simulation."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from weakstep.charts.ordered_chain import OrderedChain
from weakstep.charts.pattern_shapes import CountPattern, SequencePattern
from weakstep.charts.patterns import NELSON, completions, pattern
from weakstep.charts.run_length_laws import law_of
from weakstep.charts.run_lengths import average_run_length, survival
from weakstep.charts.zone_chain import cell_chances, lines_of, machine

STEPS = ("six_steady", "fourteen_alternating")


def test_eight_points_by_counting_all_orders() -> None:
    """Of the 40320 orders of 8 values, the share with six in a row steady, to 12 digits."""
    orders = np.array(list(permutations(range(8))), dtype=float)
    share = 1 - completions(orders, ["six_steady"])["six_steady"].any(axis=1).mean()
    assert survival(8, ["six_steady"])[-1] == pytest.approx(share, abs=1e-12)


def test_fourteen_alternating_is_eulers_number() -> None:
    """2 x 199360981 / 14! of all orders of 14 values alternate (OEIS A000111)."""
    exact = 2 * 199360981 / np.prod(np.arange(1.0, 15.0))
    alternating = survival(14, ["fourteen_alternating"])
    assert 1 - alternating[-1] == pytest.approx(exact, rel=1e-10)


@pytest.mark.parametrize("name", STEPS)
def test_shift_and_spread_do_not_matter_to_steps(name: str) -> None:
    """Steps look at the order of values alone, whatever their distribution."""
    stable = average_run_length([name])
    assert average_run_length([name], 1.3, 2.0) == pytest.approx(stable, rel=1e-12)
    # With lines on the chart that no pattern needs, the density is held in eight cells, not one.
    rare = CountPattern("rare", "rare", 40, 40, pattern("four_of_five").zones)  # type: ignore[arg-type]
    assert average_run_length([name, rare]) == pytest.approx(stable, rel=1e-9)


@pytest.mark.parametrize("names", [("six_steady", "beyond_limit"), NELSON])
@pytest.mark.parametrize("shift", [0.0, 1.4])
def test_more_nodes_change_nothing(names: tuple[str, ...], shift: float) -> None:
    """Nine nodes more, or three fewer, move the average run length by less than 1e-11."""
    shapes = [pattern(name) for name in names]
    counted = tuple(shape for shape in shapes if isinstance(shape, CountPattern))
    stepped = tuple(shape for shape in shapes if isinstance(shape, SequencePattern))
    chances = cell_chances(lines_of(counted), shift)
    average = average_run_length(names, shift)
    usual = OrderedChain.build(machine(counted), stepped, chances).nodes
    for nodes in (usual - 3, usual + 9):
        chain = OrderedChain.build(machine(counted), stepped, chances, nodes)
        assert law_of(chain.survivals(chain.first()), memory=15).average == pytest.approx(
            average, rel=1e-11
        )


@pytest.mark.parametrize("name", STEPS)
def test_run_length_is_the_sum_of_survival(name: str) -> None:
    """A long sum by points gives the same average."""
    assert average_run_length([name]) == pytest.approx(1 + survival(6000, [name]).sum(), rel=1e-4)


def test_chances_point_by_point_are_refused() -> None:
    """Cells that change from point to point say nothing about the order within them."""
    with pytest.raises(ValueError, match="one row of 9 chances for all points"):
        survival(3, ["beyond_limit", "six_steady"], np.full((3, 9), 1 / 9))
