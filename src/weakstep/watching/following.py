"""One parameter run by run: its scores, and where the evidence of a change passes its limit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.watching.evidence import WAYS, evidence, start_of, tilt_costs
from weakstep.watching.limits import AT_THE_SEAM
from weakstep.watching.memory import MEMORIES, likely, memory_logs, shares_of
from weakstep.watching.scores import cut, sequential_scores, steady_scores, without_memory

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from weakstep.watching.baseline import WatchedColumn

    Floats = NDArray[np.float64]

_VERY_LOW = 1000.0
_FIRST_LOOK = 64  # runs; looks double until something is found
_LIKELY = 10.0  # times the mean of evidence: a change is probably on its way


@dataclass(frozen=True)
class Passed:
    """Evidence that passed its limit: the way, and the places of its start and its end."""

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
        Freed of the likeliest memory.
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
    """Return the baseline's values on their scale, freed of the likeliest memory, but the first."""
    values = scaled(column, np.array(column.values))
    likeliest = MEMORIES[[int(np.argmax(column.memories))]]
    return _freed(column, values[1:], values[0], likeliest)[:, 0]


def _freed(column: WatchedColumn, values: Floats, before: float, memory: Floats) -> Floats:
    """Values freed of each memory, shape (n_values, n_memories)."""
    rows = np.broadcast_to(values[:, None], (len(values), len(memory)))
    first = np.full(len(memory), before)
    return without_memory(rows, memory, first, middle=column.middle, step=column.step)


def follow(column: WatchedColumn, coming: Floats, starts: Iterable[int] = ()) -> Followed:
    """
    Score new values one by one and weigh the evidence that the parameter moved.

    Every value is held against all before it but those that led to a signal, or were probably on
    the way to one when evidence had to start anew: these are not learned from. Evidence is the mean
    over the memories the baseline leaves open, as likely as all values up to then, taken to be
    stable, make them. After a signal, and where told, it starts anew.

    Parameters
    ----------
    column : WatchedColumn
    coming : array, shape (n_values,)
        On the scale of scores (`scaled`), in time order; no NaN.
    starts : iterable of int
        Places before which evidence starts anew.

    Returns
    -------
    Followed
    """
    if not len(coming):
        return Followed(np.zeros(0), ())
    base = scaled(column, np.array(column.values))
    some = likely(column.memories)
    likeliest = int(np.argmax(np.array(column.memories)[some]))
    known = _freed(column, base[1:], base[0], MEMORIES[some])
    new = _freed(column, coming, float(base[-1]), MEMORIES[some])
    learned = steady_scores(base, base, normal=column.normal)
    steady = steady_scores(base, coming, normal=column.normal)
    beforehand = np.log(column.memories) - memory_logs(learned, len(base))[0]
    ends = [place for place in sorted(starts) if 0 < place < len(new)] + [len(new)]
    scores, passed = np.empty(len(new)), []
    begin, look = 0, _FIRST_LOOK
    while begin < len(new):
        end = next(place for place in ends if place > begin)
        stop = min(end, begin + look)
        now = sequential_scores(known, new[begin:stop], normal=column.normal)
        counted = cut(now, len(known), normal=column.normal)
        values = np.concatenate([learned, steady[begin:stop]])
        logs = beforehand + memory_logs(values, len(learned))[1:]
        costs = tilt_costs(known, normal=column.normal)
        sums = evidence(counted, len(known), costs) * shares_of(logs[:, some])[:, None]
        total = sums.sum(axis=2)
        over = total.sum(axis=1) > column.limit
        if not over.any() and stop < end:
            look *= 2
            continue
        hit = int(np.argmax(over)) if over.any() else len(now) - 1
        scores[begin : begin + hit + 1] = now[: hit + 1, likeliest]
        kept = hit + 1
        if total[hit].sum() > min(column.limit, _LIKELY * (hit + AT_THE_SEAM)):
            way = int(np.argmax(total[hit]))
            weightiest = int(np.argmax(sums[hit, way]))
            kept = start_of(counted[: hit + 1, weightiest], len(known), WAYS[way])
            if over.any():
                passed.append(Passed(WAYS[way], begin + kept, begin + hit))
        known = np.concatenate([known, new[begin : begin + kept]])
        learned = np.concatenate([learned, steady[begin : begin + kept]])
        begin, look = begin + hit + 1, _FIRST_LOOK
    return Followed(scores, tuple(passed))
