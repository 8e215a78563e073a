"""What the page says in running text, made from the numbers of a Review."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.report.names import Names
from weakstep.report.words import (
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
from weakstep.trials.levels import SETTABLE

if TYPE_CHECKING:
    from weakstep.failures.model import Evidence, Factor, FailureAnalysis, Verdict
    from weakstep.reviewing import Review
    from weakstep.runlog.model import RunTable

DAYS_A_MONTH = 30.44
FEWEST_DAYS = 21
ACTION_WORDS = {
    "tighten": "tighten",
    "look_closer": "look closer before changing anything",
    "log_more": "nothing to tighten yet",
}


def action(verdict: Verdict, factor: Factor | None) -> str:
    """
    Return what to do in a word or two.

    Nothing is tightened where there is no window, nor unchecked where the link of the verdict's
    *factor* goes against what the description expects.
    """
    if verdict.action == "tighten" and verdict.window is None:
        return "look into it"
    if verdict.action == "tighten" and factor is not None and factor.surprising:
        return "check first"
    return ACTION_WORDS[verdict.action]


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
    lead = f"Of {tested}, {failed} failed"
    if tally.tested == 1:
        lead = f"One {process.item} was tested; it {'failed' if tally.failed else 'held'}"
    said = (
        f"{lead}: {picture}{percent(tally.rate.estimate)} "
        f"({level(tally.rate)}: {percent_range(tally.rate)})."
    )
    if tally.untested:
        more = (
            f"One more {process.item} has no known outcome and is"
            if tally.untested == 1
            else f"Another {grouped(tally.untested)} {process.items} have no known outcome and are"
        )
        said += f" {more} not counted."
    return said


def evidence(kind: Evidence, p: float) -> str:
    """Return what the evidence level means for a parameter."""
    odds = chance(p)
    if kind == "strong":
        return (
            f"Strong evidence: luck alone would show a link this clear in {odds} logs like this "
            f"one, and time passing does not explain it."
        )
    if kind == "calendar":
        return (
            "Evidence tied to the calendar: the link is clear, but anything unlogged that changed "
            "at the same time would look the same. Vary it on purpose within one day to know."
        )
    if kind == "some":
        return (
            f"Some evidence: luck alone would show a link like this in {odds} logs. Worth "
            f"watching, not worth acting on."
        )
    return "No evidence: luck alone often shows a link like this."


def saving(review: Review, factor: Factor) -> str:
    """Return what holding the window would save: items a month, or per hundred without dates."""
    names = Names(review.log.process)
    failed = int(np.sum(review.log.runs.failed.get(factor.family, np.zeros(0))))
    share, items = factor.preventable_share, review.log.process.items
    how_many = f"{percent(share.estimate)} of the {names.failures(factor.family)}"
    ends = f"({level(share)}: {percent_range(share)})"
    said = f"It could have prevented {how_many} {ends}"
    if factor.level:
        said = f"{capital(factor.level)}, {how_many} might not have happened {ends}"
    months = _months(review.log.runs)
    tested = review.failures.tally.tested
    if months is None and not tested:
        return f"{said}."
    monthly = months is not None and failed >= months
    scale = failed / months if months is not None and monthly else 100 * failed / tested
    per = "a month" if monthly else f"in every 100 tested {items}"
    saved = [max(0.0, end) * scale for end in (share.estimate, share.lower, share.upper)]
    about = [plain(end, 0 if end >= 1.95 or end == 0 else 1) for end in saved]
    return f"{said}: about {about[0]} {items} {per} ({about[1]} to {about[2]})."


def alike(names: Names, factor: Factor) -> str:
    """Return the warning that other parameters cannot be told apart, "" when there are none."""
    if not factor.alike:
        return ""
    others = [names.label(column) for column in factor.alike]
    return (
        f"This log cannot tell {names.label(factor.column)} apart from {listed(others, 'or')}: "
        f"{'either' if len(others) == 1 else 'any of them'} may be the cause."
    )


def surprise(names: Names, factor: Factor) -> str:
    """Return the warning that a link goes against what the description expects, else ""."""
    parameter = names.parameter(factor.column)
    if not factor.surprising or parameter is None:
        return ""
    if parameter.kind == "yes_no":
        expected = "without" if parameter.worse_when == "low" else "with"
        when = f"{expected} it"
    else:
        when = f"when it is {parameter.worse_when}"
    shows = "hints at" if factor.evidence == "some" else "shows"
    return (
        f"The description expects failures {when}, and this log {shows} the opposite: first rule "
        "out a swapped column or unit, and a cause that moves with it."
    )


def holding(names: Names, factor: Factor) -> str:
    """Return what holding the window takes; "" where the description's advice goes against it."""
    parameter = names.parameter(factor.column)
    return "" if parameter is None or factor.surprising else parameter.tightening


def next_step(names: Names, verdict: Verdict) -> str:
    """Return how to find out what a verdict without a planned trial leaves open."""
    parameter = names.parameter(verdict.column or "")
    if parameter is None:
        return "No trial is proposed from this log. Keep logging every run the same way."
    label, again = parameter.label, "with everything else as usual, then review the log again."
    if parameter.kind not in ("number", "yes_no"):
        return f"Give each {label} its turn on the same days, in random order and {again}"
    if parameter.formula is not None:
        return (
            f"{capital(label)} is computed from other columns: vary one of those on purpose within "
            f"single days, in random order and {again}"
        )
    if parameter.role == "counter":
        return f"Do the service behind {label} at other times than usual, {again}"
    if parameter.role not in SETTABLE:
        return (
            f"{capital(label)} cannot be set for a run: see that high and low values come up on "
            f"the same days, {again}"
        )
    # A verdict without a family rests on a measured outcome, which the trial takes by itself.
    named = "" if verdict.family is None else f" with '--vary {parameter.name}'"
    return (
        f"Vary {label} on purpose within single days, in random order and {again} The command "
        f"'weakstep trial'{named} plans it."
    )


def firmness(names: Names, analysis: FailureAnalysis) -> str:
    """Return in how many versions of the log the first factor stays first, "" when not asked."""
    asked = [line for line in analysis.sensitivity if line.first is not None]
    if not asked:
        return ""
    label, kept = names.label(analysis.factors[0].column), sum(line.still_first for line in asked)
    # Of a single factor only its link can be lost.
    place = "first" if len({factor.column for factor in analysis.factors}) > 1 else "linked"
    verb = f"stays {place}" if kept else f"does not stay {place}"
    return f"{capital(label)} {verb} in {_of(kept, len(asked))} of this log:"


def unlogged_cause(analysis: FailureAnalysis) -> str:
    """Return the warning that weaker shares may rest on something unlogged, "" without any."""
    weaker = ("calendar", "some")
    if not any(factor.evidence in weaker for factor in analysis.factors):
        return ""
    return (
        "Where the evidence is less than strong, a preventable share may rest on a cause that "
        "nobody logged: read it as a question, not as a saving."
    )


def _of(part: int, whole: int) -> str:
    """Return a part of a number of versions in words."""
    if whole == 1:
        return "the one other version"
    versions = count(whole, "other version")
    if part == whole:
        return f"all {versions}"
    return f"{grouped(part) if part else 'any'} of {versions}"


def _months(runs: RunTable) -> float | None:
    moments = np.asarray(runs.started_at, dtype="datetime64[ns]")
    known = moments[~np.isnat(moments)]
    if len(known) < 2:
        return None
    days = float((known.max() - known.min()) / np.timedelta64(1, "D"))
    return days / DAYS_A_MONTH if days >= FEWEST_DAYS else None
