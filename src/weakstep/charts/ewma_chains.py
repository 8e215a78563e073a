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
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.chain import Chain
from weakstep.charts.checks import real
from weakstep.charts.normal import normal_pdf
from weakstep.charts.panels import PanelGrid
from weakstep.charts.quadrature import gauss_legendre_panels

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_NODES = 96  # in a panel: enough for eight digits of the run lengths in the published tables
_PER_SIGMA = 4.0  # nodes in a sigma of the newest value, for small weights
_WIDEST = 500.0  # sigmas of the newest value between the limits
_GENERATIONS = 2  # each kink comes from one that is rougher; after so many it is smooth


def ewma_limit(weight: float, width: float, single: float | None) -> float:
    """Constant limit of the weighted mean; with a weight of 1 that of single values is one too."""
    limit = width * math.sqrt(weight / (2.0 - weight))
    return limit if single is None or weight < 1.0 else min(limit, single)


@lru_cache(maxsize=64)
def ewma_chain(weight: float, width: float, single: float | None = None) -> Chain:
    """How the weighted mean goes on; *single* is a limit for single values."""
    limit = ewma_limit(weight, width, single)
    if single is not None and weight < 1.0:
        grid = cut_grid(limit, weight, single, limit)

        def cut_step(states: Floats, shift: float) -> Floats:
            return cut_moves(states, grid, weight, single, shift)

        return Chain(grid.places, np.ones(len(grid.places)), cut_step)
    places, weights = ewma_nodes(limit, weight)

    def step(states: Floats, shift: float) -> Floats:
        return ewma_density(states, places, weight, shift)

    return Chain(places, weights, step)


def ewma_nodes(limit: float, weight: float) -> tuple[Floats, Floats]:
    """Nodes within *limit* on both sides, and their weights."""
    panels = math.ceil(_PER_SIGMA * 2.0 * limit / weight / _NODES)
    return gauss_legendre_panels(-limit, limit, panels, _NODES)


def ewma_density(states: Floats, places: Floats, weight: float, shift: float) -> Floats:
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
