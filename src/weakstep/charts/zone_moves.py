"""The chain of patterns of zones as a sparse matrix: averages, survivals, settled laws."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.chain import told
from weakstep.charts.zone_chain import SIGNAL

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from scipy.sparse import csr_array

    Floats = NDArray[np.float64]
    Machine = NDArray[np.intp]

_ROUNDS = 20_000  # at most, until the law of a chart that has not signalled settles
_SETTLED = 1e-15


def zone_moves(table: Machine, chances: Floats) -> csr_array:
    """Chance of each state after each state, as a sparse matrix."""
    from scipy.sparse import csr_array

    chance = np.broadcast_to(chances, table.shape)
    goes_on = (table != SIGNAL) & (chance > 0.0)
    rows = np.nonzero(goes_on)[0]
    return csr_array((chance[goes_on], (rows, table[goes_on])), shape=(len(table), len(table)))


def average_from(moves: csr_array, start: Floats) -> float:
    """Average run length from a law of the state, infinite beyond 1e12."""
    from scipy.sparse import eye_array
    from scipy.sparse.linalg import MatrixRankWarning, spsolve

    system = eye_array(len(start), format="csc") - moves.tocsc()
    with warnings.catch_warnings():  # signals too seldom for a number: singular, lengths are NaN
        warnings.simplefilter("ignore", MatrixRankWarning)
        return told(float(start @ spsolve(system, np.ones(len(start)))))


def survivals_from(moves: csr_array, start: Floats) -> Iterator[float]:
    """Chances of no signal by points 1, 2, ... from a law of the state."""
    backwards, alive = moves.T.tocsr(), start
    while True:
        alive = backwards @ alive
        yield float(alive.sum())


def settled_law(moves: csr_array) -> Floats:
    """Law of the state of a chart that has not signalled for long."""
    backwards = moves.T.tocsr()
    law = np.full(moves.shape[0], 1.0 / moves.shape[0])
    for _ in range(_ROUNDS):
        following = backwards @ law
        following /= following.sum()
        calm = bool(np.abs(following - law).max() < _SETTLED)
        law = following
        if calm:
            break
    return law
