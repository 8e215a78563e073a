"""States of a chart that has not signalled, on a grid of nodes, and how they follow each other."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_ROUNDS = 5000  # at most, until the law of a chart that has not signalled settles
_SETTLED = 1e-13


@dataclass(frozen=True, eq=False)
class Chain:
    """
    States of a chart that has not signalled: nodes with weights, and how they follow each other.

    Attributes
    ----------
    places, weights : array, shape (n_states,)
        A state of weight 1 that is no node stands for a sum at exactly 0.
    step : callable
        From states of shape (m,) and a shift to densities (or chances), shape (m, n_states).
    """

    places: Floats
    weights: Floats
    step: Callable[[Floats, float], Floats]

    def moves(self, shift: float) -> Floats:
        """Chance of each state after each state; shape (n_states, n_states)."""
        return self.step(self.places, shift) * self.weights

    def run_lengths(self, shift: float) -> Floats:
        """Average run length from each state; shape (n_states,)."""
        moves = self.moves(shift)
        lengths = np.linalg.solve(np.eye(len(moves)) - moves, np.ones(len(moves)))
        return lengths.astype(np.float64)

    def run_length_from(self, start: float, shift: float) -> float:
        """Average run length from any place."""
        first = self.step(np.array([start]), shift)[0] * self.weights
        return float(1.0 + first @ self.run_lengths(shift))

    def survival(self, n_points: int, start: float, shift: float) -> Floats:
        """Chance of no signal by each point; shape (n_points,)."""
        left = np.empty(n_points)
        moves = self.moves(shift) if n_points > 1 else np.zeros((0, 0))
        alive = self.step(np.array([start]), shift)[0] * self.weights
        for point in range(n_points):
            alive = alive @ moves if point else alive
            left[point] = alive.sum()
        return left

    def settled(self) -> Floats:
        """Law of the state of a stable chart that has not signalled for long."""
        moves = self.moves(0.0)
        law = np.full(len(moves), 1.0 / len(moves))
        for _ in range(_ROUNDS):
            following = (law @ moves).astype(np.float64)
            following /= following.sum()
            settled = bool(np.abs(following - law).max() < _SETTLED)
            law = following
            if settled:
                break
        return law

    def steady_run_length(self, shift: float) -> float:
        """Average run length when the shift comes long after the start."""
        return float(self.settled() @ self.run_lengths(shift))
