r"""
Run lengths where patterns compare neighbours (six rising, fourteen up and down in turn).

Such patterns look at the last value, so a state is what the patterns of zones remember, how many
steps of each kind in a row lie behind, and the last value itself. For any continuous distribution
the values may be taken as uniform on (0, 1), with the lines of the chart at their own quantiles.
The density of the last value is then a smooth function between two lines: a polynomial whose degree
grows with the number of points, held at Gauss-Legendre nodes, more of them between lines further
apart. One more value gives :math:`f'(y) = \int_{x < y} f(x) dx` for a step up and the integral over
:math:`x > y` for one down. Nine nodes more, or three fewer, change an average run length by less
than 1e-11 of itself (tests/charts/test_ordered_chain.py).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.quadrature import gauss_legendre
from weakstep.charts.zone_chain import SIGNAL

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from scipy.sparse import csr_array

    from weakstep.charts.pattern_shapes import SequencePattern

    Floats = NDArray[np.float64]

NODES = 4  # between two lines
_MORE_NODES = 20  # times the chance of a value between them
_BLOCK = 512  # states in one product: so small that no second processor is waited for
_ROUNDS = 1000  # points, at most, until the law of a chart that has not signalled has settled
_SETTLED = 1e-12


def _steps(shapes: tuple[SequencePattern, ...]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """
    Build the states of steps in a row: the next after a step up, and after one down.

    A state is (direction of the last step, steps in it in a row, steps of turning in a row); a row
    that no pattern counts is held at 1. The first state is a single point.
    """
    most_steady = min((s.window - 1 for s in shapes if s.free == 0), default=0)
    most_turning = min((s.window - 1 for s in shapes if s.free == 1), default=0)
    start = (0, 0, 0)
    known, queue = {start: 0}, [start]
    tables: list[list[int]] = [[], []]
    for state in queue:
        direction, steady, turning = state
        for table, step in zip(tables, (1, -1), strict=True):
            same, other = direction == step, direction == -step
            longer = steady + 1 if same else 1
            turned = turning + 1 if other else 1
            if (most_steady and longer >= most_steady) or (most_turning and turned >= most_turning):
                table.append(SIGNAL)
                continue
            following = (step, longer if most_steady else 1, turned if most_turning else 1)
            if following not in known:
                known[following] = len(known)
                queue.append(following)
            table.append(known[following])
    return np.array(tables[0], dtype=np.intp), np.array(tables[1], dtype=np.intp)


@lru_cache(maxsize=4)
def _rule(nodes: int) -> tuple[Floats, Floats, Floats]:
    """Nodes on (0, 1), their weights, and Legendre coefficients of the integral from 0."""
    places, weights = gauss_legendre(nodes)
    degrees = np.arange(nodes)
    values = np.polynomial.legendre.legvander(places, nodes - 1)
    to_coefficients = ((2 * degrees + 1) / 2)[:, None] * (values * weights[:, None]).T
    integral = np.zeros((nodes + 1, nodes))
    integral[1, 0], integral[0, 0] = 1.0, 1.0
    for degree in range(1, nodes):
        integral[degree + 1, degree] = 1.0 / (2 * degree + 1)
        integral[degree - 1, degree] = -1.0 / (2 * degree + 1)
    return (places + 1.0) / 2.0, weights / 2.0, integral @ to_coefficients / 2.0


def node_places(nodes: int) -> Floats:
    """Nodes on (0, 1), as shares of the chance of a cell that lie below them."""
    return _rule(nodes)[0]


def _integral_to(places: Floats, nodes: int) -> Floats:
    """Matrix from values at the nodes of (0, 1) to integrals from 0 to *places*."""
    basis = np.polynomial.legendre.legvander(2.0 * places - 1.0, nodes)
    return np.asarray(basis @ _rule(nodes)[2], dtype=float)


def _times(law: Floats, factor: Floats) -> Floats:
    """Product of *law* with a small matrix or vector, block by block."""
    blocks = [law[first : first + _BLOCK] @ factor for first in range(0, len(law), _BLOCK)]
    return np.concatenate(blocks)


def _matrix(after: NDArray[np.intp], before: NDArray[np.intp], size: int) -> csr_array:
    """0/1 matrix from places *before* to places *after*, of *size* places each; -1 is left out."""
    from scipy.sparse import csr_array

    kept = after != SIGNAL
    return csr_array((np.ones(int(kept.sum())), (after[kept], before[kept])), shape=(size, size))


def _reachable(follows: csr_array, starts: NDArray[np.intp]) -> NDArray[np.intp]:
    """States that some row of points leads to, in order."""
    reached = np.zeros(follows.shape[0], dtype=bool)
    reached[starts] = True
    while True:
        further = reached | (follows @ reached.astype(float) > 0.0)
        if (further == reached).all():
            return np.flatnonzero(reached)
        reached = further


@dataclass(frozen=True, eq=False)
class OrderedChain:
    """
    The chain of a combination of patterns with steps among them.

    A state is a pair (state of the zone patterns, cell of the last value) with a state of the
    steps. The law of a chart that has not signalled is an array of shape (n_states, n_nodes): the
    density of the last value, its own cell taken as (0, 1) and its chance as 1.

    Attributes
    ----------
    chances : array, shape (n_states,)
        Of the last value lying in the cell of each state.
    cells : array of int, shape (n_states,)
    inside : sparse matrix, shape (n_states, n_states)
        What the chance of a last value below a place adds to the density there, when the next value
        lies in the same cell: that of a step up less that of a step down.
    outside : sparse matrix, shape (n_states, n_states)
        What the chance of a state adds everywhere: the next value lies in another cell, or below in
        the same.
    starts : array of int
        States after a first point.
    nodes : int
    """

    chances: Floats
    cells: NDArray[np.intp]
    inside: csr_array
    outside: csr_array
    starts: NDArray[np.intp]
    nodes: int

    @classmethod
    def build(
        cls,
        table: NDArray[np.intp],
        shapes: tuple[SequencePattern, ...],
        chances: Floats,
        nodes: int | None = None,
    ) -> OrderedChain:
        """
        Build the chain.

        Parameters
        ----------
        table : array of int, shape (n_states, n_cells)
            Of `weakstep.charts.zone_chain.machine`.
        shapes : tuple of SequencePattern
        chances : array, shape (n_cells,)
            Of each cell for a value of a continuous distribution.
        nodes : int, optional
            Of the density between two lines.

        Raises
        ------
        ValueError
            *chances* are not those of the cells of *table*.
        """
        from scipy.sparse import csr_array, kron

        if chances.shape != table.shape[1:]:
            msg = (
                f"patterns of steps need one row of {table.shape[1]} chances for all points, got "
                f"shape {chances.shape}"
            )
            raise ValueError(msg)
        pairs, following = _pairs(table)
        before, cell = np.nonzero(following != SIGNAL)
        after, own = following[before, cell], pairs[before, 1]
        same, higher, lower = (
            _matrix(after[which], before[which], len(pairs))
            for which in (cell == own, cell > own, cell < own)
        )
        steps_up, steps_down = _steps(shapes)
        count = len(steps_up)
        up, down = (_matrix(step, np.arange(count), count) for step in (steps_up, steps_down))
        first = np.isin(pairs[:, 0], table[0][table[0] != SIGNAL])
        first &= table[0][pairs[:, 1]] == pairs[:, 0]
        cells = np.repeat(pairs[:, 1], count)
        inside = csr_array(kron(same, up - down))
        outside = csr_array(kron(same + lower, down) + kron(higher, up))
        starts = np.flatnonzero(first) * count
        kept = _reachable(abs(inside) + outside, starts)
        return cls(
            chances=chances[cells[kept]],
            cells=cells[kept],
            inside=inside[kept][:, kept],
            outside=outside[kept][:, kept],
            starts=np.searchsorted(kept, starts),
            nodes=nodes or NODES + round(_MORE_NODES * float(chances.max())),
        )

    def first(self) -> Floats:
        """Law after the first point."""
        law = np.zeros((len(self.cells), self.nodes))
        law[self.starts] = 1.0
        return law

    def mass(self, law: Floats) -> Floats:
        """Chance of each state; shape (n_states,)."""
        return np.asarray(self.chances * _times(law, _rule(self.nodes)[1]), dtype=float)

    def survivals(self, law: Floats) -> Iterator[float]:
        """Chances of no signal by each point, *law* being that after the first of them."""
        while True:
            mass = self.mass(law)
            yield float(mass.sum())
            law = self._next(law, mass)

    def _next(self, law: Floats, mass: Floats) -> Floats:
        to_node = _integral_to(_rule(self.nodes)[0], self.nodes).T
        return self._follow(mass, self.chances[:, None] * _times(law, to_node))

    def _follow(self, mass: Floats, below: Floats) -> Floats:
        """Law after one more point, from the chances of a last value below each node."""
        return np.asarray(self.inside @ below + (self.outside @ mass)[:, None], dtype=float)

    def settled(self) -> Floats:
        """Law of a chart that has not signalled for long; its mass is 1."""
        law = self.first()
        for _ in range(_ROUNDS):
            mass = self.mass(law)
            following = self._next(law, mass) / mass.sum()
            calm = bool(np.abs(following - law).max() < _SETTLED * np.abs(law).max())
            law = following
            if calm:
                break
        return np.asarray(law / self.mass(law).sum(), dtype=float)

    def after(self, stable: OrderedChain, places: Floats) -> Floats:
        """
        Law after the first point of this chain on a chart that has long been without a signal.

        Parameters
        ----------
        stable : OrderedChain
            Of the same patterns, before the change.
        places : array, shape (n_cells, n_nodes)
            Where the nodes of this chain lie in each cell of the stable one: the share of its
            chance that is below them.
        """
        law = stable.settled()
        to_place = np.array([_integral_to(each, stable.nodes) for each in places])
        below = np.zeros((len(law), self.nodes))
        for cell, matrix in enumerate(to_place):
            here = stable.cells == cell
            below[here] = law[here] @ matrix.T
        return self._follow(stable.mass(law), stable.chances[:, None] * below)


def _pairs(table: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Pairs (state, cell of the last value) that can come, and the pair after each cell."""
    states, cells = np.nonzero(table != SIGNAL)
    pairs = np.unique(np.column_stack([table[states, cells], cells]), axis=0)
    number = np.full(table.shape, SIGNAL, dtype=np.intp)
    number[pairs[:, 0], pairs[:, 1]] = np.arange(len(pairs))
    following = table[pairs[:, 0]]
    columns = np.broadcast_to(np.arange(table.shape[1]), following.shape)
    return pairs, np.where(following == SIGNAL, SIGNAL, number[following, columns])
