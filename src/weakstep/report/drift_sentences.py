"""What the page says about parameters that moved, made from the numbers of a Review."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.report.names import Names
from weakstep.report.words import (
    agree,
    capital,
    chance,
    count,
    date,
    grouped,
    listed,
    plain,
    sentence,
    times,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from weakstep.drift.model import Drift, DriftScreen, Together
    from weakstep.drift.nearby import Nearby
    from weakstep.failures.shifts import Consequence
    from weakstep.interval import Interval
    from weakstep.runlog.model import RunTable

MOST_NEARBY = 3
NEAR = 6  # runs; what happened further from the likeliest start says little
FORMS = {
    "step": "a step",
    "ramp": "a slow ramp",
    "spread": "a change of spread",
    "outliers": "single runs far away",
    "cycle": "a service rhythm",
}


def drift(names: Names, runs: RunTable, found: Drift) -> str:
    """Return what moved, how far, and since when."""
    label = names.label(found.column)
    if found.form == "cycle" and not found.cycle_lengths:
        return f"{capital(label)} counts up with use; that is wear, not drift."
    if found.form == "cycle":
        return (
            f"{capital(label)} follows its service rhythm{_rhythm(found)}; that is wear, not drift."
        )
    if found.changes:
        return _changes(names, runs, found)
    said = f"{_change(names, found)}{_since(runs, found)}.{_others(found)}"
    if found.explained_by_operator:
        said += " It disappears when runs are compared within operators: it may be who ran them."
    return said


def _changes(names: Names, runs: RunTable, found: Drift) -> str:
    """Return every change of a parameter whose level changed more than once."""
    steps = [
        f"to {names.value(found.column, change.after)} about {run_words(runs, change.since)}"
        for change in found.changes
    ]
    start = names.value(found.column, found.changes[0].before)
    return (
        f"{capital(names.label(found.column))} changed {times(len(steps))}: from {start} "
        f"{', then '.join(steps)}.{_others(found)}"
    )


def _others(found: Drift) -> str:
    """Return the other forms that fit, "" without any."""
    others = [FORMS[form] for form in found.other_forms if form != found.form]
    return f" {capital(listed(others, 'or'))} would fit about as well." if others else ""


def together(names: Names, runs: RunTable, groups: Sequence[Together]) -> tuple[str, ...]:
    """Return which parameters moved at the same time, a sentence per group."""
    said = []
    for group in groups:
        labels = listed([names.label(column) for column in group.columns])
        first, last = (run_words(runs, place) for place in group.since_interval)
        when = f"about {first}" if first == last else f"between {first} and {last}"
        said.append(f"{capital(labels)} moved at the same time, {when}: look for one cause.")
    return tuple(said)


def close_by(runs: RunTable, found: Drift, happened: Sequence[Nearby]) -> tuple[Nearby, ...]:
    """
    Return what changed near the start of a drift and may have to do with it.

    Nothing when the start is not known well, or lies among the first runs of the log, where
    everything comes for the first time.
    """
    if found.form == "cycle" or found.since <= NEAR or not start_is_known(runs, found):
        return ()
    return tuple(event for event in happened if abs(event.runs_away) <= NEAR)[:MOST_NEARBY]


def near(names: Names, runs: RunTable, found: Drift, happened: Sequence[Nearby]) -> str:
    """Return what else changed near the start of a drift, "" when nothing is known."""
    said = []
    for event in close_by(runs, found, happened):
        label = names.label(event.column)
        what = f"service ({label})" if event.what == "service" else f"{label} {event.what}"
        said.append(f"{what} from {run_words(runs, event.run)}")
    if not said:
        return ""
    return f"Near its start, worth checking, not proven: {listed(said)}."


def consequence(names: Names, change: Drift, found: Sequence[Consequence]) -> str:
    """Return how many more or fewer failures go with a change, "" when that is not known."""
    said, since = [], "since the first change" if change.changes else "since then"
    for item in found:
        way = "more" if item.failures.estimate >= 0 else "fewer"
        chips = count(item.chips, names.process.item, names.process.items)
        said.append(
            f"about {_failures(item.failures.estimate)} {way} {names.failures(item.family)} among "
            f"{chips} {since} ({_span(item.failures)})"
        )
    return f"What goes with it: {'; '.join(said)}." if said else ""


def _failures(number: float) -> str:
    """Return how many, whichever way: small numbers to one digit after the point."""
    return plain(abs(number), 0 if abs(number) >= 1.95 else 1)


def _span(failures: Interval) -> str:
    """Return the ends of an interval of more (or, below 0, fewer) failures."""
    low, high = failures.lower, failures.upper
    if low < 0.0 < high:
        return f"from {_failures(low)} fewer to {_failures(high)} more"
    least, most = sorted((abs(low), abs(high)))
    return f"range {_failures(least)} to {_failures(most)}"


def _change(names: Names, found: Drift) -> str:
    label = names.label(found.column)
    say = names.spread if found.form == "spread" else names.value
    before, after = say(found.column, found.before), say(found.column, found.after)
    up = found.after > found.before
    if found.form == "outliers":
        return f"Single runs of {label} lie far from the rest ({after} against a usual {before})"
    if found.form == "spread":
        verb = "grew" if up else "shrank"
        return f"The spread of {label} {verb} from {before} to {after} (standard deviation)"
    verb = "rose" if up else "fell"
    if found.form == "ramp":
        return f"{capital(label)} {verb} bit by bit from {before} to {after} at the end of the log"
    return f"{capital(label)} {verb} at once from {before} to {after}"


def _since(runs: RunTable, found: Drift) -> str:
    first, last = found.since_interval
    if found.form == "outliers":
        return f", the clearest being {run_words(runs, found.since)}"
    between = f"between {run_words(runs, first)} and {run_words(runs, last)}, 95\u00a0%"
    if not start_is_known(runs, found):
        return f"; this log cannot tell well since when ({between})"
    since = f", since about {run_words(runs, found.since)}"
    return since if first == last else f"{since} (the change began {between})"


def start_is_known(runs: RunTable, found: Drift) -> bool:
    """Whether the interval of a drift's start is narrower than half of the log."""
    first, last = found.since_interval
    return last - first <= len(runs) / 2


def _rhythm(found: Drift) -> str:
    lengths = found.cycle_lengths
    shortest, longest = min(lengths), max(lengths)
    span = str(shortest) if shortest == longest else f"{shortest} to {longest}"
    return f" of {span} runs between services"


def drift_evidence(found: Drift) -> str:
    """Return how sure it is that a parameter moved."""
    if found.form == "cycle":
        return "not tested, a wear counter"
    return f"{found.evidence}; a stable log would look like this in {chance(found.p)} cases"


def moved(screen: DriftScreen) -> str:
    """Return how many parameters moved, held steady, or could not be judged."""
    if screen.too_little and not screen.drifts and not screen.stable:
        few = len(screen.too_little)
        which = "The only parameter" if few == 1 else f"None of {grouped(few)} parameters"
        return f"{which} could {'not ' if few == 1 else ''}be judged."
    strong = sum(item.evidence == "strong" for item in screen.drifts)
    some = sum(item.evidence == "some" for item in screen.drifts)
    cycles = sum(item.form == "cycle" for item in screen.drifts)
    parts = [f"{count(strong, 'parameter')} moved"]
    if some:
        parts.append(f"{grouped(some)} may have moved")
    if cycles:
        parts.append(f"{count(cycles, 'wear counter')} {agree(cycles, 'was', 'were')} not tested")
    parts.append(f"{grouped(len(screen.stable)) if screen.stable else 'none'} held steady")
    if screen.too_little:
        parts.append(f"{grouped(len(screen.too_little))} could not be judged")
    return sentence(listed(parts))


def run_words(runs: RunTable, index: int) -> str:
    """Return a run by its identifier and date."""
    moment = date(np.datetime64(runs.started_at[index]))
    return f"run {runs.run_id[index]}" + (f" on {moment}" if moment else "")
