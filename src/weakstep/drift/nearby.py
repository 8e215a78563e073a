"""What else happened near the start of a drift: worth checking, never the cause."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.drift.together import all_changes

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from numpy.typing import ArrayLike, NDArray

    from weakstep.drift.model import Drift

_SLACK = 3  # runs beyond the interval of the start that still count as near
_FARTHEST = 20  # runs from the likeliest start, where the interval reaches farther
_MOST = 3  # things worth checking a drift
_SETTLING = 5  # first runs of a log, in which everything is new


@dataclass(frozen=True)
class Nearby:
    """
    Something that changed near the start of a drift.

    Attributes
    ----------
    column : str
        A category (lot, mould, operator) or a counter that was set back.
    what : str
        The new value of a category; "service" for a counter.
    run : int
        Index of the first run with it.
    runs_away : int
        From the likeliest start of the drift; negative when it came before.
    """

    column: str
    what: str
    run: int
    runs_away: int


def services_of(cycle: Drift) -> tuple[int, ...]:
    """
    List the runs that were the first after a service, from a drift of form "cycle".

    Examples
    --------
    >>> from weakstep.drift.model import Drift
    >>> nan = float("nan")
    >>> cycle = Drift("oil", "cycle", 90, (90, 90), 1, 2, nan, "none", cycle_lengths=(30, 40))
    >>> services_of(cycle)
    (20, 50, 90)
    """
    if cycle.since == 0:
        return ()
    back = np.cumsum(cycle.cycle_lengths[::-1], dtype=int)
    return (*(int(cycle.since - step) for step in back[::-1]), cycle.since)


def first_uses(values: ArrayLike) -> list[tuple[int, str]]:
    """
    Run at which each value of a category came first, the first five runs of the log left out.

    Parameters
    ----------
    values : array_like of str, shape (n_runs,)
        "" where not logged, "several" where a run mixed them: neither is a value.

    Examples
    --------
    >>> first_uses(["K1"] * 10 + ["K2"] * 5)
    [(10, 'K2')]
    """
    seen: dict[str, int] = {}
    for run, value in enumerate(np.asarray(values, dtype=str).tolist()):
        if value not in ("", "several"):
            seen.setdefault(value, run)
    return [(run, value) for value, run in seen.items() if run >= _SETTLING]


def worth_checking(
    drifts: Iterable[Drift], categories: Mapping[str, NDArray[np.str_]]
) -> dict[str, tuple[Nearby, ...]]:
    """
    For each drift, what changed near its start: services, new lots, moulds, operators.

    Parameters
    ----------
    drifts : iterable of Drift
        Cycles among them tell when equipment was serviced.
    categories : mapping of column to array of str, shape (n_runs,)

    Returns
    -------
    dict of column to tuple of Nearby
        Nearest first, at most three and within 20 runs of the likeliest start; columns near which
        nothing changed are left out.
    """
    every = list(drifts)
    happened = [
        (run, cycle.column, "service")
        for cycle in every
        if cycle.form == "cycle"
        for run in services_of(cycle)
    ]
    happened += [
        (run, column, value)
        for column, values in categories.items()
        for run, value in first_uses(values)
    ]
    found: dict[str, list[Nearby]] = {}
    for drift in every:
        if drift.form not in ("step", "ramp", "spread") or drift.evidence == "none":
            continue
        for change in all_changes(drift):
            first, last = change.since_interval
            near = [
                Nearby(column, what, run, run - change.since)
                for run, column, what in happened
                if first - _SLACK <= run <= last + _SLACK
                and abs(run - change.since) <= _FARTHEST
                and column != drift.column
            ]
            found.setdefault(drift.column, []).extend(near)
    return {
        column: tuple(sorted(set(near), key=lambda one: (abs(one.runs_away), one.column))[:_MOST])
        for column, near in found.items()
        if near
    }
