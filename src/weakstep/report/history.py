"""Several semesters and what the lab changed: the section, its figure and tables."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from weakstep.report.plot import Axis, Plot, Table, Whiskers, row_axis
from weakstep.report.ticks import percent_ticks
from weakstep.report.words import date, share_words
from weakstep.semesters.words import trend_sentence
from weakstep.trials.comparing import ALL

if TYPE_CHECKING:
    from weakstep.report.names import Names
    from weakstep.semesters.model import ChangeOutcome, FamilyTrend, History

MOST_ROWS = 30


def history(names: Names, found: History | None) -> dict[str, Any] | None:
    """Return what the page says of semesters and changes; None when there is nothing to say."""
    if found is None:
        return None
    process = names.process
    told = f"Semesters are told apart by {found.told_by}." if found.told_by else ""
    return {
        "told": told if found.trends else "",
        "trends": [trend_sentence(trend, found, process) for trend in found.trends],
        "plot": _rates(names, found) if found.trends else None,
        "changes": [outcome.sentence for outcome in found.changes],
        "changes_table": _changes(found) if found.changes else None,
    }


def _rates(names: Names, found: History) -> Plot:
    """Draw the failure rate of each family in each semester, with its interval."""
    rows = [
        (trend, semester.name, rate)
        for trend in found.trends
        for semester, rate in zip(found.semesters, trend.rates, strict=True)
        if rate is not None
    ][:MOST_ROWS]
    place = np.arange(len(rows), dtype=float)
    estimate, lower, upper = (
        np.array([getattr(rate, part) for _, _, rate in rows])
        for part in ("estimate", "lower", "upper")
    )
    hover = [
        f"{_family(names, trend)}, {semester}: {share_words(rate)}"
        for trend, semester, rate in rows
    ]
    several = len(found.trends) > 1
    labels = [
        f"{_family(names, trend)} · {semester}" if several else semester
        for trend, semester, _ in rows
    ]
    top = min(1.0, 1.08 * float(upper.max()))
    items = names.process.items
    return Plot(
        "semesters",
        f"Share of tested {items} that failed, by semester",
        f"A mark is the share that failed, the line its 95 % interval; {items} of one run are not "
        "taken as independent.",
        Axis(f"share of tested {items} that failed", 0.0, top, percent_ticks(0.0, top)),
        row_axis(labels),
        (Whiskers(place, estimate, lower, upper, "main", "dot", "", hover),),
        _semesters(names, found),
    )


def _family(names: Names, trend: FamilyTrend) -> str:
    return "all failures" if trend.family == ALL else names.failures(trend.family)


def _semesters(names: Names, found: History) -> Table:
    rows = []
    for place, one in enumerate(found.semesters):
        shares = [trend.rates[place] for trend in found.trends]
        rows.append(
            (
                one.name,
                date(one.first) or "–",
                date(one.last) or "–",
                str(one.runs),
                str(one.tested),
                *("–" if rate is None else share_words(rate) for rate in shares),
            )
        )
    heads = [_family(names, trend) for trend in found.trends]
    return Table(
        f"{names.process.items.capitalize()} and failures by semester",
        ("semester", "first run", "last run", "runs", "tested", *heads),
        tuple(rows),
        (False, False, False, *([True] * (2 + len(heads)))),
        "Shares with 95 % intervals.",
    )


def _changes(found: History) -> Table:
    return Table(
        "What was changed, and failures before and since",
        ("since", "what was changed", "before", "since then", "chance of luck"),
        tuple(_change(outcome) for outcome in found.changes),
        (False, False, True, True, True),
        "Before and since are not a trial: whatever else changed at the same time would look the "
        "same. Each change is judged by the runs from the change before it to the next one in its "
        "step; luck alone would show a fall or a rise in about one change of twenty.",
    )


def _change(outcome: ChangeOutcome) -> tuple[str, ...]:
    change = outcome.change
    head = (str(change.date), change.what)
    rate = outcome.rate
    if rate is None:
        return (*head, "–", "–", outcome.why_not)
    shares = [share_words(one) for one in (rate.before, rate.after)]
    return (*head, *shares, "below 0.1 %" if rate.luck < 0.001 else f"{100 * rate.luck:.1f} %")
