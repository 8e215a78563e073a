r"""
What stands behind the run lengths of EWMA charts: the weighted mean as the state of a chain.

Where the statistic stands after a point, *y*, is a state; the density of the next state given this
one is :math:`K(s, y)`. Average run lengths solve :math:`A(s) = 1 + \int A(y) K(s, y) dy`
(S. V. Crowder 1987, A simple method for studying run-length distributions of exponentially
weighted moving average charts, Technometrics 29, 401-407), here at Gauss-Legendre nodes. With a
limit *c* for single values too the integral goes from :math:`(1 - \lambda) s - \lambda c` to
:math:`(1 - \lambda) s + \lambda c`. All lengths are in sigmas of a single value.
"""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import chain as chain_of
from itertools import islice
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.chain import Chain, told
from weakstep.charts.checks import real
from weakstep.charts.normal import normal_pdf
from weakstep.charts.panels import PanelGrid
from weakstep.charts.quadrature import gauss_legendre_panels
from weakstep.charts.run_length_laws import RunLengthLaw, law_of
from weakstep.charts.slow_chains import LONGEST_LAW

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_NODES = 96  # in a panel: enough for eight digits of the run lengths in the published tables
_PER_SIGMA = 4.0  # nodes in a sigma of the newest value, for small weights
_WIDEST = 500.0  # sigmas of the newest value between the limits
_GENERATIONS = 2  # each kink comes from one that is rougher; after so many it is smooth


def ewma_limit(weight: float, width: float, single: float | None) -> float:
    """Constant limit of the weighted mean; means of values within *single* lie within it too."""
    limit = width * math.sqrt(weight / (2.0 - weight))
    return limit if single is None else min(limit, single)


@lru_cache(maxsize=64)
def ewma_chain(weight: float, width: float, single: float | None = None) -> Chain:
    """How the weighted mean goes on; *single* is a limit for single values."""
    limit = ewma_limit(weight, width, single)
    if single is not None and weight < 1.0:
        grid = cut_grid(limit, weight, single, limit)

        def cut_step(states: Floats, shift: float) -> Floats:
            return cut_moves(states, grid, weight, single, shift)

        return Chain(grid.places, np.ones(len(grid.places)), cut_step)
    return chain_between(-limit, limit, weight)


def chain_between(low: float, high: float, weight: float) -> Chain:
    """How the weighted mean goes on between two limits that stay where they are."""
    places, weights = _nodes(low, high, weight)

    def step(states: Floats, shift: float) -> Floats:
        return _density(states, places, weight, shift)

    return Chain(places, weights, step)


def under_limits(
    lower: Floats, upper: Floats, weight: float, shift: float, start: float
) -> tuple[Floats, Floats]:
    """
    Follow a chart point by point under limits that move.

    Parameters
    ----------
    lower, upper : array, shape (n_points,)
        Limits of the weighted mean at each point.
    weight, shift, start : float

    Returns
    -------
    left : array, shape (n_points,)
        Chance of no signal by each point.
    law : array
        Of the last state, on the nodes of `chain_between` the last limits.
    """
    left = np.empty(len(lower))
    states, law = np.array([start]), np.ones(1)
    for point, (low, high) in enumerate(zip(lower, upper, strict=True)):
        places, weights = _nodes(low, high, weight)
        law = (law @ _density(states, places, weight, shift)) * weights
        states, left[point] = places, law.sum()
    return left, law


def law_after(left: Floats, law: Floats, chain: Chain, shift: float) -> RunLengthLaw:
    """Distribution of the run length once limits no longer move: *law* is that of the state."""
    average = told(float(1.0 + left.sum() - left[-1] + law @ chain.run_lengths(shift)))
    following = islice(chain.survivals(law, shift), 1, None)  # the first is the last of left
    return law_of(chain_of(left.tolist(), following), average, longest=LONGEST_LAW)


def _nodes(low: float, high: float, weight: float) -> tuple[Floats, Floats]:
    """Nodes between two limits, and their weights."""
    panels = math.ceil(_PER_SIGMA * (high - low) / weight / _NODES)
    return gauss_legendre_panels(low, high, panels, _NODES)


def _density(states: Floats, places: Floats, weight: float, shift: float) -> Floats:
    """Density of the next weighted mean at *places*; shape (n_states, n_places)."""
    kept = (1.0 - weight) * states[:, None]
    return normal_pdf((places - kept) / weight - shift) / weight


def cut_grid(limit: float, weight: float, single: float, following: float) -> PanelGrid:
    """Nodes within *limit*, where the next point has to stay within *following*."""
    ends, kinks = [-following, following], []
    for _ in range(_GENERATIONS):
        before = [
            (end + way) / (1.0 - weight)
            for end in ends
            for way in (-weight * single, weight * single)
        ]
        ends = [place for place in before if abs(place) < limit]
        kinks += ends
    return PanelGrid.over(-limit, limit, kinks, weight)


def cut_moves(
    states: Floats, grid: PanelGrid, weight: float, single: float, shift: float
) -> Floats:
    """Chances of each state after each state when single values stay within *single* too."""
    kept = (1.0 - weight) * states
    return grid.integrals(
        kept - weight * single,
        kept + weight * single,
        lambda y: normal_pdf((y - kept[:, None]) / weight - shift) / weight,
    )


def check_ewma(weight: float, width: float, shift: float, single: float | None) -> None:
    """Raise ValueError when the numbers do not make an EWMA chart."""
    real("weight", weight, above=0.0, most=1.0)
    real("width", width, above=0.0)
    real("shift", shift)
    if single is not None:
        real("shewhart_limit", single, above=0.0)
    if 2.0 * width / math.sqrt(weight * (2.0 - weight)) > _WIDEST:
        msg = (
            f"weight must not be so small for so wide a limit ({weight:g}, {width:g}): values "
            "would add up over too many points to compute a run length"
        )
        raise ValueError(msg)
