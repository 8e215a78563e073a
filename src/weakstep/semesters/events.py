"""What charts mark: services, changes made by the lab, the begin of each semester."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.semesters.model import Event

if TYPE_CHECKING:
    from collections.abc import Iterable

    from weakstep.runlog.model import RunLog
    from weakstep.semesters.model import Change, History


def events_of(
    log: RunLog, services: Iterable[tuple[str, int]], history: History | None
) -> tuple[Event, ...]:
    """
    List the dated events of a log.

    Parameters
    ----------
    log : RunLog
    services : iterable of (column, run)
        Counters that were set back, and the index of the first run since.
    history : History or None

    Returns
    -------
    tuple of Event
        Services first, then semesters, then changes, each in order of time.
    """
    days = log.runs.started_at.astype("datetime64[D]")
    found = [
        Event(
            f"service ({log.process.parameter(column).label})",
            "service",
            run,
            None if np.isnat(days[run]) else days[run],
            (column,),
        )
        for column, run in services
        # Without a service a counter's cycle begins at its first value.
        if log.runs.numbers[column].iloc[:run].notna().any()
    ]
    if history is None:
        return tuple(found)
    for place, semester in enumerate(history.semesters[1:], 1):
        inside = np.flatnonzero(history.semester_of == place)
        if len(inside):
            day = None if np.isnat(semester.first) else semester.first
            found.append(Event(semester.name, "semester", int(inside[0]), day))
    for change in (outcome.change for outcome in history.changes):
        since = np.flatnonzero(days >= change.date)
        first = int(since[0]) if len(since) else len(days)
        columns = _columns(log, change)
        found.append(Event(change.what, "change", first, change.date, columns))
    return tuple(found)


def _columns(log: RunLog, change: Change) -> tuple[str, ...]:
    """Return the parameters that a change concerns: its own, or those of its step."""
    if change.column is not None:
        return (change.column,)
    return tuple(
        one.name for one in log.process.parameters if one.step == change.step and change.step
    )
