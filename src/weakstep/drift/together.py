"""Parameters that moved at the same time: one cause, several charts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from weakstep.drift.model import Change, Drift, Together

if TYPE_CHECKING:
    from collections.abc import Iterable

_WIDEST = 40  # runs; a start less sure than this is near everything and says nothing


def moved_together(drifts: Iterable[Drift]) -> tuple[Together, ...]:
    """
    Group strong changes whose starts cannot be told apart.

    Two changes belong together when each one's start lies in the other's interval; a group holds
    changes that all do. Starts that are sure to no more than 40 runs join no group.

    Parameters
    ----------
    drifts : iterable of Drift

    Returns
    -------
    tuple of Together
        Groups of two columns or more, in order of their start.

    Examples
    --------
    >>> def step(column, since, first, last):
    ...     return Drift(column, "step", since, (first, last), 0.0, 1.0, 0.01, "strong")
    >>> a, b, c = step("a", 50, 48, 53), step("b", 52, 45, 60), step("c", 90, 85, 95)
    >>> found = moved_together([a, b, c])
    >>> [(group.columns, group.since_interval) for group in found]
    [(('a', 'b'), (48, 53))]
    """
    starts = sorted(
        (
            (change.since, *change.since_interval, drift.column)
            for drift in drifts
            if drift.evidence == "strong" and drift.form in ("step", "ramp", "spread")
            for change in all_changes(drift)
            if change.since_interval[1] - change.since_interval[0] <= _WIDEST
        ),
    )
    groups: list[list[tuple[int, int, int, str]]] = []
    for start in starts:
        home = next((group for group in groups if all(_alike(start, one) for one in group)), None)
        if home is None:
            groups.append([start])
        else:
            home.append(start)
    return tuple(
        Together(
            columns=tuple(dict.fromkeys(column for *_, column in group)),
            since_interval=(max(one[1] for one in group), min(one[2] for one in group)),
        )
        for group in groups
        if len({column for *_, column in group}) > 1
    )


def all_changes(drift: Drift) -> tuple[Change, ...]:
    """Every change of a drift, in order of time."""
    own = Change(drift.since, drift.since_interval, drift.before, drift.after)
    return drift.changes or (own,)


def _alike(one: tuple[int, int, int, str], other: tuple[int, int, int, str]) -> bool:
    return one[1] <= other[0] <= one[2] and other[1] <= one[0] <= other[2]
