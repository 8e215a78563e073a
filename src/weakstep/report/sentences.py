"""What the page says in running text, made from the numbers of a Review."""

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
    level,
    listed,
    one_in,
    percent,
    percent_range,
    plain,
    sentence,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from weakstep.drift.model import Drift, DriftScreen, Together
    from weakstep.failures.model import Evidence, Factor, FailureAnalysis
    from weakstep.reviewing import Review
    from weakstep.runlog.model import RunTable

DAYS_A_MONTH = 30.44
FEWEST_DAYS = 21
EVIDENCE_WORDS = {
    "strong": "strong",
    "calendar": "tied to the calendar",
    "some": "some, not enough to act on",
    "none": "none",
}
FORMS = {
    "step": "a step",
    "ramp": "a slow ramp",
    "spread": "a change of spread",
    "outliers": "single runs far away",
    "cycle": "a service rhythm",
}
ACTION_WORDS = {
    "tighten": "tighten",
    "look_closer": "look closer before changing anything",
    "log_more": "log more runs first",
}


def period(runs: RunTable) -> str:
    """Return from when to when the log runs, "" when no run has a date."""
    moments = np.asarray(runs.started_at, dtype="datetime64[ns]")
    known = moments[~np.isnat(moments)]
    if not len(known):
        return ""
    first, last = date(known.min()), date(known.max())
    return first if first == last else f"{first} to {last}"


def what_was_read(review: Review) -> str:
    """Return the size of the log in one sentence."""
    runs = review.log.runs
    when = period(runs)
    people = len({str(name) for name in runs.operator} - {""})
    parts = [count(len(runs), "run"), count(len(review.log.chips), "row")]
    if people:
        parts.append(count(people, "operator"))
    return sentence(f"{listed(parts)}, {when}" if when else f"{listed(parts)}, no dates")


def outcome(review: Review) -> str:
    """Return how many failed, as a count, a picture and an interval."""
    tally, process = review.failures.tally, review.log.process
    if not tally.tested or tally.rate is None:
        return (
            f"No {process.item} in this log has a known outcome, so no failure rate can be given."
        )
    tested = count(tally.tested, f"tested {process.item}", f"tested {process.items}")
    failed = (
        "none"
        if tally.failed == 0
        else "all"
        if tally.failed == tally.tested
        else grouped(tally.failed)
    )
    picture = "" if failed in ("none", "all") else f"{one_in(tally.rate.estimate)}, "
    said = (
        f"Of {tested}, {failed} failed: {picture}{percent(tally.rate.estimate)} "
        f"({level(tally.rate)}: {percent_range(tally.rate)})."
    )
    if tally.untested:
        items = count(tally.untested, f"further {process.item}", f"further {process.items}")
        verbs = agree(
            tally.untested,
            "has no known outcome and never counts",
            "have no known outcome and never count",
        )
        said += f" {capital(items)} {verbs} as good."
    return said


def evidence(kind: Evidence, p: float) -> str:
    """Return what the evidence level means for a parameter."""
    odds = chance(p)
    if kind == "strong":
        return (
            f"Evidence: strong. Were no parameter linked to failures, a link this clear would turn "
            f"up somewhere in {odds} logs like this one, and it is not explained by time passing."
        )
    if kind == "calendar":
        return (
            "Evidence: tied to the calendar. The link is clear, but anything unlogged that changed "
            "at the same time would look the same. Vary it on purpose within one day to know."
        )
    if kind == "some":
        return (
            f"Evidence: some. Were nothing linked, a link like this would turn up in {odds} logs: "
            f"worth watching, not worth acting on."
        )
    return "Evidence: none. A link like this turns up easily when nothing is going on."


def saving(review: Review, factor: Factor) -> str:
    """Return what holding the window would save: items a month, or per hundred without dates."""
    names = Names(review.log.process)
    failed = int(np.sum(review.log.runs.failed.get(factor.family, np.zeros(0))))
    share, items = factor.preventable_share, review.log.process.items
    said = (
        f"It could have prevented {percent(share.estimate)} of the {names.failures(factor.family)} "
        f"({level(share)}: {percent_range(share)})"
    )
    months = _months(review.log.runs)
    tested = review.failures.tally.tested
    if months is None and not tested:
        return f"{said}."
    monthly = months is not None and failed >= months
    scale = failed / months if months is not None and monthly else 100 * failed / tested
    per = "a month" if monthly else f"in every 100 tested {items}"
    ends = [max(0.0, end) * scale for end in (share.estimate, share.lower, share.upper)]
    about = [plain(end, 0 if end >= 1.95 or end == 0 else 1) for end in ends]
    return f"{said}: about {about[0]} {items} {per} ({about[1]} to {about[2]})."


def alike(names: Names, factor: Factor) -> str:
    """Return the warning that other parameters cannot be told apart, "" when there are none."""
    if not factor.alike:
        return ""
    others = listed([names.label(column) for column in factor.alike], "or")
    return (
        f"This log cannot tell {names.label(factor.column)} apart from {others}: "
        f"any of them may be the cause."
    )


def drift(names: Names, runs: RunTable, found: Drift) -> str:
    """Return what moved, how far, and since when."""
    label = names.label(found.column)
    if found.form == "cycle":
        return (
            f"{capital(label)} follows its service rhythm{_rhythm(found)}; that is wear, not drift."
        )
    if found.changes:
        return _changes(names, runs, found)
    said = f"{_change(names, found)}{_since(runs, found)}."
    others = [FORMS[form] for form in found.other_forms if form != found.form]
    if others:
        said += f" {capital(listed(others, 'or'))} would fit about as well."
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
        f"{capital(names.label(found.column))} changed {grouped(len(steps))} times: from {start} "
        f"{listed(steps, 'then')}."
    )


def together(names: Names, runs: RunTable, groups: Sequence[Together]) -> tuple[str, ...]:
    """Return which parameters moved at the same time, a sentence per group."""
    said = []
    for group in groups:
        labels = listed([names.label(column) for column in group.columns])
        first, last = (run_words(runs, place) for place in group.since_interval)
        when = f"about {first}" if first == last else f"between {first} and {last}"
        said.append(f"{capital(labels)} moved at the same time, {when}: look for one cause.")
    return tuple(said)


def firmness(names: Names, analysis: FailureAnalysis) -> str:
    """Return in how many versions of the log the first factor stays first, "" when not asked."""
    asked = [line for line in analysis.sensitivity if line.first is not None]
    if not asked:
        return ""
    label, kept = names.label(analysis.factors[0].column), sum(line.still_first for line in asked)
    verb = "stays first" if kept else "does not stay first"
    return f"{capital(label)} {verb} in {_of(kept, len(asked))} of this log:"


def _of(part: int, whole: int) -> str:
    """Return a part of a number of versions in words."""
    if whole == 1:
        return "the one other version"
    versions = count(whole, "other version")
    if part == whole:
        return f"all {versions}"
    return f"{grouped(part) if part else 'any'} of {versions}"


def _change(names: Names, found: Drift) -> str:
    label = names.label(found.column)
    before, after = names.value(found.column, found.before), names.value(found.column, found.after)
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
    if last - first > len(runs) / 2:
        return f"; this log cannot tell well since when ({between})"
    since = f", since about {run_words(runs, found.since)}"
    return since if first == last else f"{since} (the change began {between})"


def _rhythm(found: Drift) -> str:
    lengths = found.cycle_lengths
    if not lengths:
        return ""
    shortest, longest = min(lengths), max(lengths)
    span = str(shortest) if shortest == longest else f"{shortest} to {longest}"
    return f" of {span} runs between services"


def drift_evidence(found: Drift) -> str:
    """Return how sure it is that a parameter moved."""
    if found.form == "cycle":
        return "not tested: a declared wear counter"
    return f"{found.evidence}; a stable log would look like this in {chance(found.p)} cases"


def moved(screen: DriftScreen) -> str:
    """Return how many parameters moved, held steady, or could not be judged."""
    strong = sum(item.evidence == "strong" for item in screen.drifts)
    some = sum(item.evidence == "some" for item in screen.drifts)
    cycles = sum(item.form == "cycle" for item in screen.drifts)
    parts = [f"{count(strong, 'parameter')} moved"]
    if some:
        parts.append(f"{grouped(some)} may have moved")
    if cycles:
        parts.append(
            f"{grouped(cycles)} {agree(cycles, 'follows its', 'follow their')} service rhythm"
        )
    parts.append(f"{grouped(len(screen.stable)) if screen.stable else 'none'} held steady")
    if screen.too_little:
        parts.append(f"{grouped(len(screen.too_little))} could not be judged")
    return sentence(listed(parts))


def run_words(runs: RunTable, index: int) -> str:
    """Return a run by its identifier and date."""
    moment = date(np.datetime64(runs.started_at[index]))
    return f"run {runs.run_id[index]}" + (f" on {moment}" if moment else "")


def _months(runs: RunTable) -> float | None:
    moments = np.asarray(runs.started_at, dtype="datetime64[ns]")
    known = moments[~np.isnat(moments)]
    if len(known) < 2:
        return None
    days = float((known.max() - known.min()) / np.timedelta64(1, "D"))
    return days / DAYS_A_MONTH if days >= FEWEST_DAYS else None
