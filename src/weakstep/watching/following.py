"""One parameter run by run: its scores, and where its sums pass their limits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.watching.limits import ColumnLimits
from weakstep.watching.scores import cut, sequential_scores, stretch_of, without_memory
from weakstep.watching.sums import WAYS, column_sums, passes, start_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from weakstep.watching.baseline import WatchedColumn

    Floats = NDArray[np.float64]

_VERY_LOW = 1000.0
_FIRST_LOOK = 64  # runs; looks double until something is found


@dataclass(frozen=True)
class Passed:
    """A sum that passed its limit: the way, and the places of its start and its end."""

    way: str
    began: int
    at: int


@dataclass(frozen=True, eq=False)
class Followed:
    """
    New values of a parameter.

    Attributes
    ----------
    scores : array, shape (n_values,)
    passed : tuple of Passed
        In time order.
    """

    scores: Floats
    passed: tuple[Passed, ...]


def scaled(column: WatchedColumn, values: Floats) -> Floats:
    """Return values on the scale they are scored on; what has no logarithm is very low there."""
    if not column.on_log:
        return values
    return np.asarray(np.log(np.maximum(values, min(column.values) / _VERY_LOW)))


def stable_values(column: WatchedColumn) -> Floats:
    """Return the baseline's values on their scale, freed of memory: all but the first."""
    values = scaled(column, np.array(column.values))
    return _freed(column, values[1:], values[0])


def _freed(column: WatchedColumn, values: Floats, before: float) -> Floats:
    return without_memory(values, column.memory, before, middle=column.middle, step=column.step)


def follow(column: WatchedColumn, coming: Floats, starts: Iterable[int] = ()) -> Followed:
    """
    Score new values one by one and cumulate them.

    Every value is held against all before it but those that led to a signal: these are not learned
    from. After a signal, and where told, sums start anew.

    Parameters
    ----------
    column : WatchedColumn
    coming : array, shape (n_values,)
        On the scale of scores (`scaled`), in time order; no NaN.
    starts : iterable of int
        Places before which sums start anew.

    Returns
    -------
    Followed
    """
    last = scaled(column, np.array(column.values[-1:]))
    if not len(coming):
        return Followed(np.zeros(0), ())
    new = _freed(column, coming, float(last[0]))
    known = stable_values(column)
    stretch = float(stretch_of(known, normal=column.normal))
    limits = ColumnLimits(column.slow, column.fast, column.spread)
    ends = [place for place in sorted(starts) if 0 < place < len(new)] + [len(new)]
    scores, passed = np.empty(len(new)), []
    begin, look = 0, _FIRST_LOOK
    while begin < len(new):
        end = next(place for place in ends if place > begin)
        stop = min(end, begin + look)
        now = sequential_scores(known, new[begin:stop], normal=column.normal)
        counted = cut(now, len(known), normal=column.normal)
        over = passes(column_sums(counted, len(known), stretch), limits)
        if not over.any() and stop < end:
            look *= 2
            continue
        hit = int(np.argmax(over.any(axis=1))) if over.any() else len(now) - 1
        scores[begin : begin + hit + 1] = now[: hit + 1]
        found = {
            WAYS[place]: start_of(counted[: hit + 1], len(known), int(place), stretch)
            for place in np.flatnonzero(over[hit])
        }
        passed += [Passed(way, begin + start, begin + hit) for way, start in found.items()]
        kept = min(found.values(), default=hit + 1)
        known = np.concatenate([known, new[begin : begin + kept]])
        begin, look = begin + hit + 1, _FIRST_LOOK
    return Followed(scores, tuple(passed))
