"""States of a chart that has not signalled, on a grid of nodes, and how they follow each other."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.run_length_laws import RunLengthLaw, law_of, survivals_of
from weakstep.charts.slow_chains import LONGEST_LAW, survivals_of_chain

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Place = float | tuple[float, ...]

_ROUNDS = 100  # at most, until the law of a chart that has not signalled settles
_SETTLED = 1e-14
_APART = 1e-13  # from 1, where equations are solved that nearly have no solution
LONGEST = 1e12  # points; beyond, an average run length has lost its digits and is told as infinite


@dataclass(frozen=True, eq=False)
class Chain:
    """
    States of a chart that has not signalled: nodes with weights, and how they follow each other.

    Attributes
    ----------
    places : array, shape (n_states,) or (n_states, n_dimensions)
    weights : array, shape (n_states,)
        A state of weight 1 that is no node stands for a sum at exactly 0.
    step : callable
        From states of shape (m,) or (m, n_dimensions) and a shift to densities (or chances), shape
        (m, n_states).
    """

    places: Floats
    weights: Floats
    step: Callable[[Floats, float], Floats]

    def moves(self, shift: float) -> Floats:
        """Chance of each state after each state; shape (n_states, n_states)."""
        return self.step(self.places, shift) * self.weights

    def run_lengths(self, shift: float) -> Floats:
        """
        Average run length from each state; shape (n_states,).

        Beyond 1e12 points only their ratios keep digits, see `told`.
        """
        moves = self.moves(shift)
        try:
            lengths = np.linalg.solve(np.eye(len(moves)) - moves, np.ones(len(moves)))
        except np.linalg.LinAlgError:
            return np.full(len(moves), np.inf)
        return lengths.astype(np.float64)

    def run_length_from(self, start: Place, shift: float) -> float:
        """Average run length from any place, as `run_lengths`."""
        lengths = self.run_lengths(shift)
        if np.isinf(lengths[0]):
            return math.inf
        first = self.step(np.array([start]), shift)[0] * self.weights
        return float(1.0 + first @ lengths)

    def survivals(self, law: Floats, shift: float) -> Iterator[float]:
        """Chances of no signal by each further point, from a law of the state; the first is 1."""
        return survivals_of_chain(self.moves(shift), law)

    def survivals_from(self, start: Place, shift: float) -> Iterator[float]:
        """Chances of no signal by points 1, 2, ... from any place."""
        return self.survivals(self.step(np.array([start]), shift)[0] * self.weights, shift)

    def survival(self, n_points: int, start: Place, shift: float) -> Floats:
        """Chance of no signal by each point; shape (n_points,)."""
        return survivals_of(self.survivals_from(start, shift), n_points)

    def law(self, start: Place, shift: float) -> RunLengthLaw:
        """Distribution of the run length from any place."""
        average = told(self.run_length_from(start, shift))
        return law_of(self.survivals_from(start, shift), average, longest=LONGEST_LAW)

    def steady_law(self, shift: float) -> RunLengthLaw:
        """Distribution of the run length when the shift comes long after the start."""
        settled = self.settled()
        following = self.survivals(settled, shift)
        next(following)  # before the first point of the changed process
        lengths = self.run_lengths(shift)
        average = math.inf if np.isinf(lengths[0]) else float(settled @ lengths)
        return law_of(following, told(average), longest=LONGEST_LAW)

    def settled(self) -> Floats:
        r"""
        Law of the state of a stable chart that has not signalled for long.

        The left eigenvector of the largest eigenvalue, by inverse iteration from 1: each round
        solves :math:`(I - Q)' x_{i+1} = x_i`.
        """
        from scipy.linalg import lu_factor, lu_solve

        moves = self.moves(0.0)
        solver = lu_factor((1.0 + _APART) * np.eye(len(moves)) - moves.T)
        law = np.full(len(moves), 1.0 / len(moves))
        for _ in range(_ROUNDS):
            following = lu_solve(solver, law)
            following = np.asarray(following / following.sum(), dtype=float)
            settled = bool(np.abs(following - law).max() < _SETTLED)
            law = following
            if settled:
                break
        return law


def told(average: float) -> float:
    """Return an average run length, infinite where it has lost its digits (beyond 1e12 points)."""
    return average if 0.0 < average < LONGEST else math.inf
