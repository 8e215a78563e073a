"""What patterns of zones remember of a chart: a machine with as few states as it can have."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import real
from weakstep.charts.normal import normal_cdf
from weakstep.charts.pattern_shapes import CountPattern
from weakstep.charts.patterns import patterns_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from weakstep.charts.pattern_shapes import Pattern

    Floats = NDArray[np.float64]

USUAL_WIDTH = 3.0  # sigmas from the centre line to a limit
# Lines at -3 ... 3 sigma; the centre line twice, so that a point on it has a cell of its own.
USUAL_LINES = (-3.0, -2.0, -1.0, 0.0, 0.0, 1.0, 2.0, 3.0)
_MOST_STATES = 100_000  # of a machine before states are merged; more take minutes
SIGNAL = -1


def lines_of(shapes: tuple[CountPattern, ...]) -> tuple[float, ...]:
    """
    Lines between the cells of a chart that the patterns can tell apart.

    Those at whole sigmas with the centre line twice where these are all, so that points of counts
    may lie on it; otherwise just the patterns' own, a centre line among them twice.
    """
    own = {line for shape in shapes for zone in shape.zones for line in zone.lines}
    if own and own <= set(USUAL_LINES):
        return USUAL_LINES
    return tuple(sorted([*own, *(line for line in own if line == 0.0)]))


def lines_for(names: Sequence[str | Pattern]) -> tuple[float, ...]:
    """Lines between the cells of a chart with these patterns; the usual ones for none at all."""
    shapes = patterns_of(names)
    if not shapes:
        return USUAL_LINES
    return lines_of(tuple(shape for shape in shapes if isinstance(shape, CountPattern)))


def cell_chances(lines: tuple[float, ...], shift: float = 0.0, spread: float = 1.0) -> Floats:
    """
    Chance of each cell for a normal value; shape (n_lines + 1,).

    Parameters
    ----------
    lines : tuple of float
        In sigmas from the centre line.
    shift : float
        Of the mean, in sigmas.
    spread : float
        Standard deviation, in sigmas of the stable process.
    """
    real("shift", shift)
    real("spread", spread, above=0.0)
    return np.diff(normal_cdf((np.array(lines) - shift) / spread), prepend=0.0, append=1.0)


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
def machine(shapes: tuple[CountPattern, ...]) -> NDArray[np.intp]:
    """
    Build the machine behind a combination of patterns.

    Parameters
    ----------
    shapes : tuple of CountPattern
        None at all gives a machine of one state, which never signals.

    Returns
    -------
    array of int, shape (n_states, n_cells)
        Next state for each cell between `lines_of(shapes)`; -1 when a pattern is complete. The
        first state is the start.

    Raises
    ------
    ValueError
        The patterns remember too many different pasts to be followed.
    """
    lines = np.array(lines_of(shapes))
    middles = (lines[1:] + lines[:-1]) / 2.0
    points = np.r_[lines[0] - 1.0, middles, lines[-1] + 1.0] if len(lines) else np.zeros(1)
    tracks = [(shape, zone(points).tolist()) for shape in shapes for zone in shape.zones]
    start = tuple(_start(shape) for shape, _ in tracks)
    known, queue, table = {start: 0}, [start], []
    for state in queue:
        row = []
        for cell in range(len(points)):
            step = [
                _advance(memory, shape, hits[cell])
                for memory, (shape, hits) in zip(state, tracks, strict=True)
            ]
            following = tuple(memory for memory in step if memory is not None)
            if len(following) < len(step):
                row.append(SIGNAL)
                continue
            if following not in known:
                if len(known) == _MOST_STATES:
                    msg = (
                        f"these patterns remember more than {_MOST_STATES} pasts: take fewer of "
                        "them, or shorter windows"
                    )
                    raise ValueError(msg)
                known[following] = len(known)
                queue.append(following)
            row.append(known[following])
        table.append(row)
    return _merged(np.array(table, dtype=np.intp))


def _merged(table: NDArray[np.intp]) -> NDArray[np.intp]:
    """
    Merge states that no future can tell apart; the start stays first.

    Classes are split until all states of a class go to the same classes (E. F. Moore 1956,
    Gedanken-experiments on sequential machines, Automata Studies, Princeton, 129-153).
    """
    classes = np.zeros(len(table), dtype=np.intp)
    count = 1
    while True:
        followers = np.where(table == SIGNAL, SIGNAL, classes[table])
        _, first, finer = np.unique(
            np.column_stack([classes, followers]), axis=0, return_index=True, return_inverse=True
        )
        classes = finer.ravel()
        if len(first) == count:
            break
        count = len(first)
    order = np.argsort(first)  # classes numbered by their first state, so the start is number 0
    number = np.empty(count, dtype=np.intp)
    number[order] = np.arange(count)
    kept = table[first[order]]
    return np.where(kept == SIGNAL, SIGNAL, number[classes[kept]])
