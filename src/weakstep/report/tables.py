"""The tables of a review as CSV text, safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from weakstep.report.findings import run_at
from weakstep.runlog.safe import safe_cell

if TYPE_CHECKING:
    import pandas as pd

    from weakstep.interval import Interval
    from weakstep.reviewing import Review
    from weakstep.runlog.model import RunTable
    from weakstep.semesters.model import History


def tables(review: Review) -> dict[str, str]:
    """Return the CSV files of a report by their name within its folder."""
    log = review.log
    return {
        "tables/factors.csv": _factors(review),
        "tables/steps.csv": _steps(review),
        "tables/drifts.csv": _drifts(review),
        "tables/signals.csv": _signals(review),
        "tables/runs.csv": _runs(log.runs),
        "tables/rows_used.csv": _frame(log.chips),
        "tables/problems.csv": _csv(
            ("file", "line", "column", "found", "code", "message", "action", "severity"),
            (
                (p.file, p.line, p.column, p.found, p.code, p.message, p.action, p.severity)
                for p in log.problems
            ),
        ),
        "tables/cells_read_with_care.csv": _csv(
            ("file", "line", "column", "found", "taken_as", "why"),
            ((c.file, c.line, c.column, c.found, c.taken_as, c.why) for c in log.care),
        ),
        "tables/columns.csv": _csv(
            ("file", "header", "taken_as", "unit_read", "how"),
            ((m.file, m.header, m.parameter, m.unit_read, m.how) for m in log.columns),
        ),
        "set_aside.csv": _frame(log.set_aside),
    } | _history(review.history)


def cell(value: Any) -> str:
    """
    Return a value as a CSV cell; text that a spreadsheet would run as a formula gets a quote mark.

    Examples
    --------
    >>> cell("=1+1"), cell(-3.5), cell(None), cell(float("nan")), cell("fine")
    ("'=1+1", '-3.5', '', '', 'fine')
    """
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    if isinstance(value, np.datetime64):
        return "" if np.isnat(value) else str(value.astype("datetime64[s]"))
    text = str(value)
    if text in ("NaT", "<NA>"):
        return ""
    return safe_cell(text) if isinstance(value, str) else text


def _csv(head: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([cell(name) for name in head])
    writer.writerows([cell(value) for value in row] for row in rows)
    return out.getvalue()


def _frame(frame: pd.DataFrame) -> str:
    return _csv([str(name) for name in frame.columns], frame.itertuples(index=False, name=None))


def _parts(value: Interval | None) -> tuple[float | None, ...]:
    if value is None:
        return (None, None, None, None)
    return (value.estimate, value.lower, value.upper, value.level)


def _factors(review: Review) -> str:
    head = (
        "family", "rank", "column", "step", "evidence", "p", "p_week", "p_calendar",
        "preventable_share", "lower", "upper", "level", "window_lower", "window_upper", "unit",
        "share_inside", "shape", "odds_ratio", "odds_lower", "odds_upper", "odds_level", "per",
        "alike", "missing",
    )  # fmt: skip
    rows = (
        (
            item.family, item.rank, item.column, item.step, item.evidence, item.p, item.p_week,
            item.p_calendar, *_parts(item.preventable_share),
            item.window.lower if item.window else None, item.window.upper if item.window else None,
            item.window.unit if item.window else None, item.share_inside, item.shape,
            *_parts(item.odds_ratio), item.per, " ".join(item.alike), item.missing,
        )
        for item in review.failures.factors
    )  # fmt: skip
    return _csv(head, rows)


def _steps(review: Review) -> str:
    head = ("family", "rank", "step", "evidence", "preventable_share", "lower", "upper", "level")
    return _csv(
        head,
        (
            (item.family, item.rank, item.step, item.evidence, *_parts(item.preventable_share))
            for item in review.failures.steps
        ),
    )


def _drifts(review: Review) -> str:
    head = (
        "column", "form", "since_run", "since_time", "from_run", "to_run", "before", "after", "p",
        "evidence", "other_forms", "explained_by_operator", "cycle_lengths",
    )  # fmt: skip
    runs = review.log.runs
    rows = []
    for item in review.drifts.drifts:
        since = run_at(runs, item.since)
        ends = [run_at(runs, end)["run_id"] for end in item.since_interval]
        rows.append(
            (
                item.column, item.form, since["run_id"], since["started_at"], *ends, item.before,
                item.after, item.p, item.evidence, " ".join(item.other_forms),
                "yes" if item.explained_by_operator else "no",
                " ".join(str(length) for length in item.cycle_lengths),
            )
        )  # fmt: skip
    return _csv(head, rows)


def _history(found: History | None) -> dict[str, str]:
    """Return the tables of semesters, their trends and the lab's changes, as far as there are."""
    if found is None:
        return {}
    parts = {
        "tables/semesters.csv": _semesters(found) if found.trends else "",
        "tables/trends.csv": _trends(found) if found.trends else "",
        "tables/changes.csv": _changes(found) if found.changes else "",
    }
    return {name: text for name, text in parts.items() if text}


def _semesters(found: History) -> str:
    head = (
        "semester", "first_day", "last_day", "runs", "tested", "family", "failed",
        "rate", "lower", "upper", "level",
    )  # fmt: skip
    return _csv(
        head,
        (
            (
                one.name, _day(one.first), _day(one.last), one.runs, one.tested, trend.family,
                one.failed.get(trend.family, sum(one.failed.values())), *_parts(trend.rates[place]),
            )
            for place, one in enumerate(found.semesters)
            for trend in found.trends
        ),
    )  # fmt: skip


def _trends(found: History) -> str:
    head = ("family", "odds_per_semester", "lower", "upper", "level", "p", "p_differ", "dealt")
    return _csv(
        head,
        (
            (one.family, *_parts(one.odds_per_semester), one.luck, one.differ, one.dealt)
            for one in found.trends
        ),
    )


def _changes(found: History) -> str:
    head = (
        "date", "change", "column", "step", "family", "window_lower", "window_upper", "from_review",
        "judged_family", "first_day", "last_day", "runs_before", "runs_since", "failed_before",
        "tested_before", "failed_since", "tested_since", "difference", "lower", "upper", "level",
        "chance_of_luck", "same_day", "meanwhile", "why_not", "place",
    )  # fmt: skip
    rows = []
    for outcome in found.changes:
        change, rate, compared = outcome.change, outcome.rate, outcome.comparison
        judged: tuple[Any, ...] = (None,) * 14
        if rate is not None and compared is not None and outcome.days is not None:
            judged = (
                rate.family, _day(outcome.days[0]), _day(outcome.days[-1]), *compared.runs,
                rate.failed[0], rate.tested[0], rate.failed[1], rate.tested[1],
                *_parts(rate.difference), rate.luck,
            )  # fmt: skip
        rows.append(
            (
                _day(change.date), change.what, change.column, change.step, change.family,
                *(change.window or (None, None)), change.from_review, *judged,
                "; ".join(outcome.same_day), "; ".join(one.what for one in outcome.meanwhile),
                outcome.why_not, change.place,
            )
        )  # fmt: skip
    return _csv(head, rows)


def _day(moment: np.datetime64) -> str:
    return "" if np.isnat(moment) else str(moment.astype("datetime64[D]"))


def _signals(review: Review) -> str:
    head = ("column", "chart", "run_id", "started_at", "value", "pattern")
    rows = []
    for column, pair in review.charts.items():
        for chart in pair:
            for signal in chart.signals:
                run = run_at(review.log.runs, signal.at)
                value = float(chart.values[signal.at])
                rows.append((column, chart.kind, *run.values(), value, signal.phrase))
    return _csv(head, rows)


def _runs(runs: RunTable) -> str:
    families = [f"failed_{family}" for family in runs.failed]
    head = [
        "run_id", "started_at", "operator", "week", "tested", *families,
        *map(str, runs.categories), *map(str, runs.numbers),
    ]  # fmt: skip
    columns = [
        runs.run_id, np.asarray(runs.started_at, dtype="datetime64[s]"), runs.operator, runs.week,
        runs.tested, *runs.failed.values(),
        *(runs.categories[name].to_numpy() for name in runs.categories),
        *(runs.numbers[name].to_numpy() for name in runs.numbers),
    ]  # fmt: skip
    return _csv(head, zip(*columns, strict=True))
