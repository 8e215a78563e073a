"""
How long a stable or shifted process runs until a chart signals: exact Markov chains.

A point only enters through the zone it falls in (beyond 3 sigma, between 2 and 3, ...), so what
the patterns remember of the past is one of finitely many states. The approach is that of
C. W. Champ and W. H. Woodall (1987), Exact results for Shewhart control charts with supplementary
runs rules, Technometrics 29, 393-399; here the states are found by walking from the start.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.normal import normal_cdf
from weakstep.charts.pattern_shapes import CountPattern
from weakstep.charts.patterns import DEFAULT_PATTERNS, pattern

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

# One point from each zone between the lines at -3 ... 3 sigma, and the centre line itself.
_ZONE_POINTS = np.array([-3.5, -2.5, -1.5, -0.5, 0.0, 0.5, 1.5, 2.5, 3.5])
_ZONE_EDGES = np.array([-3.0, -2.0, -1.0, 0.0, 0.0, 1.0, 2.0, 3.0])
_SIGNAL = -1


def zone_probabilities(shift: float = 0.0) -> NDArray[np.float64]:
    """
    Chance of each zone of the chart for a normal value whose mean is off by *shift* sigmas.

    Returns
    -------
    array, shape (9,)
        Below -3, -3 to -2, -2 to -1, -1 to 0, on the centre line (0 here), and the same upwards.

    Examples
    --------
    >>> zone_probabilities().round(4).tolist()
    [0.0013, 0.0214, 0.1359, 0.3413, 0.0, 0.3413, 0.1359, 0.0214, 0.0013]
    """
    return np.diff(normal_cdf(_ZONE_EDGES - shift), prepend=0.0, append=1.0)


def _advance(memory: tuple[int, ...], shape: CountPattern, inside: bool) -> tuple[int, ...] | None:
    """Memory of the last window - 1 points after one more; None when the pattern is complete."""
    if inside and sum(memory) + 1 >= shape.needed:
        return None
    if shape.needed == shape.window:  # only the unbroken row counts
        return (memory[0] + 1,) if inside else (0,)
    return (*memory, int(inside))[-(shape.window - 1) :]


def _start(shape: CountPattern) -> tuple[int, ...]:
    return (0,) if shape.needed == shape.window else (0,) * (shape.window - 1)


@lru_cache(maxsize=64)
def transitions(names: tuple[str, ...]) -> NDArray[np.intp]:
    """
    Build the chain of states behind a combination of patterns.

    Parameters
    ----------
    names : tuple of str
        Keys of `weakstep.charts.patterns.PATTERNS`; only patterns that count points in zones.

    Returns
    -------
    array of int, shape (n_states, 9)
        Next state for each zone of `zone_probabilities`; -1 when a pattern is complete. The first
        state is the start.

    Raises
    ------
    ValueError
        A pattern depends on more than zones (steadily rising, up and down in turn).
    """
    tracks = []
    for name in names:
        shape = pattern(name)
        if not isinstance(shape, CountPattern):
            msg = f"the pattern {name!r} depends on more than zones; simulate its run length"
            raise ValueError(msg)
        tracks += [(shape, zone(_ZONE_POINTS).tolist()) for zone in shape.zones]
    start = tuple(_start(shape) for shape, _ in tracks)
    known, queue, table = {start: 0}, [start], []
    for state in queue:
        row = []
        for zone in range(len(_ZONE_POINTS)):
            step = [
                _advance(memory, shape, hits[zone])
                for memory, (shape, hits) in zip(state, tracks, strict=True)
            ]
            following = tuple(memory for memory in step if memory is not None)
            if len(following) < len(step):
                row.append(_SIGNAL)
                continue
            if following not in known:
                known[following] = len(known)
                queue.append(following)
            row.append(known[following])
        table.append(row)
    return np.array(table, dtype=np.intp)


def survival(
    n_points: int,
    names: Sequence[str] = DEFAULT_PATTERNS,
    zones: ArrayLike | None = None,
) -> NDArray[np.float64]:
    """
    Chance that no signal has come by each point.

    Parameters
    ----------
    n_points : int
        Points on the chart, one per run.
    names : sequence of str
        Patterns in use.
    zones : array_like, shape (9,) or (n_points, 9), optional
        Chance of each zone, for all points or point by point; default: a stable normal process.

    Returns
    -------
    array, shape (n_points,)

    Examples
    --------
    >>> survival(2, ["beyond_limit"]).round(6).tolist()
    [0.9973, 0.994608]
    """
    table = transitions(tuple(names))
    chances = np.asarray(zone_probabilities() if zones is None else zones, dtype=float)
    chances = np.broadcast_to(chances, (n_points, len(_ZONE_POINTS)))
    alive = np.zeros(len(table) + 1)
    alive[0] = 1.0
    left = np.empty(n_points)
    for point, chance in enumerate(chances):
        # The last place collects what has signalled; index -1 of the table points at it.
        moved = np.bincount(
            (table % len(alive)).ravel(),
            weights=(alive[:-1, None] * chance).ravel(),
            minlength=len(alive),
        )
        moved[-1] = 0.0
        alive = moved.astype(float)
        left[point] = alive.sum()
    return left


def average_run_length(names: Sequence[str] = DEFAULT_PATTERNS, shift: float = 0.0) -> float:
    r"""
    Average number of points until the first signal, from a fresh start (zero state).

    Solves :math:`(I - Q) a = 1` for the chain *Q* of the states without signal.

    Parameters
    ----------
    names : sequence of str
        Patterns in use.
    shift : float
        How far the mean is off, in sigmas.

    Returns
    -------
    float
        In points.

    Examples
    --------
    >>> round(average_run_length(["beyond_limit"]), 2)
    370.4
    """
    from scipy.sparse import csc_array, eye_array
    from scipy.sparse.linalg import spsolve

    table = transitions(tuple(names))
    states = len(table)
    chance = np.broadcast_to(zone_probabilities(shift), table.shape)
    goes_on = (table != _SIGNAL) & (chance > 0.0)
    rows = np.nonzero(goes_on)[0]
    chain = csc_array((chance[goes_on], (rows, table[goes_on])), shape=(states, states))
    if states == 1:
        return 1.0 / (1.0 - float(chain.sum()))
    return float(spsolve(eye_array(states, format="csc") - chain, np.ones(states))[0])
