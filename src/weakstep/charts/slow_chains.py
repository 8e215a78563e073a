r"""
Chances of no signal far out, where a chart forgets slowly how it started.

Weighted means with a small weight, or sums without an allowance, need tens of thousands of points
until their law no longer changes in shape. By then only a few slow modes of the chain *Q* are left.
The directions :math:`v, A v, A^2 v, \dots` with :math:`A = (I - Q')^{-1}`, *v* the law of the state
after a while, hold them (W. E. Arnoldi 1951, The principle of minimized iterations in the solution
of the matrix eigenvalue problem, Quarterly of Applied Mathematics 9, 17-29). With *V* their
orthonormal basis and :math:`A V \approx V H` a small chain :math:`I - H^{-1}` follows the law on.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from scipy.sparse import csr_array

    Floats = NDArray[np.float64]

LONGEST_LAW = 400_000  # points; by then a chart of the least weight forgets how it started
_ONE_BY_ONE = 1000  # points followed by the whole chain
_LARGE = 200  # states; a smaller chain is followed as it is
_SPARSE = 1e-30  # chance of a move that is left out of a large chain
_APART = 1e-13  # from 1
_MOST_MODES = 120
_SPENT = 1e-13  # of the first direction; what is shorter is rounding
_CHECKED, _CLOSE = 100, 1e-10  # points at which the small chain must be as good as the whole one
_BLOCK = 256  # points taken from the small chain at a time


def survivals_of_chain(moves: Floats, law: Floats) -> Iterator[float]:
    """
    Chances of no signal after 0, 1, 2, ... further points, without end.

    Parameters
    ----------
    moves : array, shape (n_states, n_states)
        Chance of each state after each state.
    law : array, shape (n_states,)
        Of the state, now.

    Examples
    --------
    >>> left = survivals_of_chain(np.array([[0.5]]), np.array([1.0]))
    >>> list(islice(left, 3))
    [1.0, 0.5, 0.25]
    """
    if len(moves) < _LARGE:
        yield from _followed(moves.T, law)
        return
    from scipy.sparse import csr_array

    backwards = csr_array(np.where(np.abs(moves) > _SPARSE, moves, 0.0).T)
    alive = law
    for _ in range(_ONE_BY_ONE):
        yield float(alive.sum())
        alive = backwards @ alive
    yield from _far_out(moves, backwards, alive)


def _followed(backwards: Floats | csr_array, law: Floats) -> Iterator[float]:
    while True:
        yield float(law.sum())
        law = backwards @ law


def _far_out(moves: Floats, backwards: csr_array, law: Floats) -> Iterator[float]:
    """Go on with a small chain where it agrees with the whole one, else with the whole one."""
    if law.sum() > 0.0:
        small = _small_chain(moves, law)
        whole = np.array(list(islice(_followed(backwards, law), _CHECKED)))
        if np.abs(np.array(list(islice(small, _CHECKED))) - whole).max() < _CLOSE * whole[0]:
            yield from whole.tolist()
            yield from small
    yield from _followed(backwards, law)


def _small_chain(moves: Floats, law: Floats) -> Iterator[float]:
    """Chances of no signal by the slow modes of a chain."""
    from scipy.linalg import lu_factor, lu_solve

    # A little more than I - Q, as that has no inverse where signals are too seldom for a number.
    solver = lu_factor((1.0 + _APART) * np.eye(len(moves)) - moves.T)
    size = float(np.linalg.norm(law))
    basis, table = [law / size], np.zeros((_MOST_MODES + 1, _MOST_MODES))
    for column in range(_MOST_MODES):
        following = lu_solve(solver, basis[-1])
        for _ in range(2):  # once more for what rounding left of the directions before
            parts = np.array(basis) @ following
            table[: column + 1, column] += parts
            following = following - parts @ np.array(basis)
        table[column + 1, column] = np.linalg.norm(following)
        if table[column + 1, column] <= _SPENT * table[0, 0]:
            break
        basis.append(following / table[column + 1, column])
    modes = column + 1
    step = (1.0 + _APART) * np.eye(modes) - np.linalg.inv(table[:modes, :modes])
    # Row n of the block tells the chance after n points from the state of the small chain.
    block = np.empty((_BLOCK, modes))
    block[0] = np.array(basis[:modes]).sum(axis=1)
    for row in range(1, _BLOCK):
        block[row] = block[row - 1] @ step
    leap = np.linalg.matrix_power(step, _BLOCK)
    state = size * np.eye(modes)[0]
    while True:
        yield from (block @ state).tolist()
        state = leap @ state
