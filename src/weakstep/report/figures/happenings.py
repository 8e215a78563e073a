"""What happened along the log and belongs on a parameter's chart: services, changes, new lots."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.report.drift_sentences import close_by, run_words
from weakstep.report.plot import Dashes, Layer, Mark, Rug, Tone
from weakstep.report.words import count, listed

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from weakstep.report.names import Names
    from weakstep.reviewing import Review
    from weakstep.runlog.model import RunTable

MOST_LINES = 20  # of one kind; beyond, they stand as short ticks along the top
MOST_TOLD = 12
DASHES: tuple[Dashes, ...] = ("", "dashed", "dotted")
FIRST_DASHES = {"service": 0, "change": 1, "semester": 2, "new": 0}
LOOKS: dict[str, Tone] = {"service": "fourth", "change": "ink", "semester": "muted", "new": "fifth"}


@dataclass(frozen=True)
class Happening:
    """
    One thing that happened.

    Attributes
    ----------
    kind : str
        "service", "change" (made by the lab), "semester" (one begins) or "new" (a lot, a mould, an
        operator that came first near the start of a drift).
    name : str
        What a legend says.
    run : int
        Index of the first run since; the number of runs when none came after it.
    """

    kind: str
    name: str
    run: int


def happenings(review: Review, names: Names, column: str) -> tuple[Happening, ...]:
    """
    Return what belongs on a parameter's chart, in order of time.

    Services of its own counter and of the counters of its step, changes that concern it or
    everything, semesters, and what else changed near the start of its drift.
    """
    found = [
        Happening(event.kind, event.name, event.run)
        for event in review.events
        if not event.columns
        or column in event.columns
        or (event.kind == "service" and _same_step(names, event.columns, column))
    ]
    drift = next((item for item in review.drifts.drifts if item.column == column), None)
    if drift is not None and drift.evidence != "none":
        for near in close_by(review.log.runs, drift, review.worth_checking.get(column, ())):
            label = names.label(near.column)
            new = near.what != "service"
            name = f"first use of {label} {near.what}" if new else f"service ({label})"
            found.append(Happening("new" if new else "service", name, near.run))
    return tuple(sorted(dict.fromkeys(found), key=lambda one: (one.run, one.kind, one.name)))


def _same_step(names: Names, counters: Iterable[str], column: str) -> bool:
    mine = names.parameter(column)
    steps = {other.step for other in map(names.parameter, counters) if other is not None}
    return mine is not None and mine.step is not None and mine.step in steps


def lines(happened: Sequence[Happening], runs: RunTable) -> list[Layer]:
    """Return upright lines, a legend entry and another look for each kind and name."""
    layers: list[Layer] = []
    turn: dict[str, int] = {}
    for kind, name in dict.fromkeys((one.kind, _entry(one)) for one in happened):
        mine = [one for one in happened if (one.kind, _entry(one)) == (kind, name)]
        dashes = DASHES[turn.get(kind, FIRST_DASHES[kind]) % len(DASHES)]
        turn[kind] = turn.get(kind, FIRST_DASHES[kind]) + 1
        if len(mine) > MOST_LINES:
            layers.append(Rug(np.array([one.run + 0.5 for one in mine]), LOOKS[kind], True, name))
            continue
        for number, one in enumerate(mine):
            said = f"{one.name}: {_when(one, runs)}"
            layers.append(Mark(one.run + 0.5, LOOKS[kind], "" if number else name, dashes, said))
    return layers


def _entry(one: Happening) -> str:
    """Return the legend entry: a lab's changes share one, everything else has its name."""
    return {"change": "change made by the lab", "semester": "a semester begins"}.get(
        one.kind, one.name
    )


def _when(one: Happening, runs: RunTable) -> str:
    if one.run >= len(runs):
        return "after the last run"
    return f"from {run_words(runs, one.run)}"


def told(happened: Sequence[Happening], runs: RunTable) -> str:
    """Return what the lines stand for in words, "" when there are none."""
    if not happened:
        return ""
    by_name: dict[str, list[str]] = {}
    for one in happened[:MOST_TOLD]:
        by_name.setdefault(one.name, []).append(_when(one, runs))
    said = [f"{name} {listed(when)}" for name, when in by_name.items()]
    if len(happened) > MOST_TOLD:
        said.append(f"{count(len(happened) - MOST_TOLD, 'more line')}")
    return f"Upright lines: {'; '.join(said)}."
