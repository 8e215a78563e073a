"""What the page says about the log itself: problems, cells read with care, rows set aside."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from weakstep.report.plot import Table
from weakstep.report.words import agree, capital, count, grouped, listed

if TYPE_CHECKING:
    from weakstep.reviewing import Review
    from weakstep.runlog.model import Problem, RunLog

MOST_LISTED = 100
MOST_KINDS = 15
SEVERITY = {
    "set_aside": "row set aside",
    "cell_missing": "cell counts as missing",
    "question": "used as read; please look",
    "note": "worth knowing",
}


@dataclass(frozen=True)
class Quality:
    """
    The log's own quality, ready for the page.

    Attributes
    ----------
    lead : str
        Rows read, used, set aside; cells read with care.
    groups, problems, care, care_groups, set_aside, columns : Table or None
    unmatched : str
        Header texts that fit no parameter, "" when all do.
    """

    lead: str
    groups: Table | None
    problems: Table | None
    care: Table | None
    care_groups: Table | None
    set_aside: Table | None
    columns: Table | None
    unmatched: str


def quality(review: Review, most: int = MOST_LISTED) -> Quality:
    """Return what is known about how well the log was kept and read; lists hold *most* rows."""
    log = review.log
    return Quality(
        _lead(log),
        _groups(log),
        _problems(log, most),
        _care(log, most),
        _care_groups(log),
        _set_aside(log, most),
        _columns(log, most),
        _unmatched(log),
    )


def _lead(log: RunLog) -> str:
    aside, care = len(log.set_aside), len(log.care)
    rows = capital(count(log.rows_read, "row"))
    out = (
        "none was set aside"
        if not aside
        else f"{grouped(aside)} {agree(aside, 'was', 'were')} set aside"
    )
    cells = (
        "every cell was the plain value it shows"
        if not care
        else f"{count(care, 'cell')} {agree(care, 'was', 'were')} read with care"
    )
    notes = sum(problem.severity == "note" for problem in log.problems)
    found = count(len(log.problems) - notes, "problem")
    if notes:
        found += f" and {count(notes, 'note')}"
    return f"{rows} read, {grouped(len(log.chips))} used; {out}. {capital(found)} found; {cells}."


def _groups(log: RunLog) -> Table | None:
    grouped_by: dict[tuple[str, str], list[Problem]] = {}
    for problem in log.problems:
        grouped_by.setdefault((problem.code, problem.severity), []).append(problem)
    if not grouped_by:
        return None
    rows = tuple(
        (code.replace("_", " "), str(len(mine)), SEVERITY[severity],
         ", ".join(filter(None, (_place(mine[0]), mine[0].column))),
         f"{mine[0].message} {mine[0].action}")
        for (code, severity), mine in grouped_by.items()
    )  # fmt: skip
    return Table(
        "Problems by kind",
        ("kind", "count", "what was done", "first", "what it says"),
        rows,
        (False, True),
    )


def _problems(log: RunLog, most: int) -> Table | None:
    if not log.problems:
        return None
    rows = tuple(
        (_place(problem), problem.column or "–", problem.found or "–",
         f"{problem.message} {problem.action}", SEVERITY[problem.severity])
        for problem in log.problems[:most]
    )  # fmt: skip
    return Table(
        "Every problem, worst first",
        ("place", "column", "found", "what it says", "what was done"),
        rows,
        note=_cut(len(log.problems), most, "tables/problems.csv"),
    )


def _care_groups(log: RunLog) -> Table | None:
    if not log.care:
        return None
    kinds = [(_kind(reading.why), reading.column) for reading in log.care]
    found = Counter(kinds)
    first = dict(zip(reversed(kinds), reversed(log.care), strict=True))
    rows = tuple(
        (why, column, str(times), f"{first[why, column].found} → {first[why, column].taken_as}")
        for (why, column), times in found.most_common(MOST_KINDS)
    )
    left_out = len(found) - len(rows)
    return Table(
        "Cells read with care, by reason",
        ("why", "column", "count", "for example"),
        rows,
        (False, False, True),
        f"{capital(count(left_out, 'rarer reason'))} in the list below." if left_out else "",
    )


def _kind(why: str) -> str:
    # Reasons that differ only in their numbers are one kind: "the middle of … to …".
    return re.sub(r"\d[\d.,:]*", "…", why)


def _care(log: RunLog, most: int) -> Table | None:
    if not log.care:
        return None
    rows = tuple(
        (f"{item.file}, line {item.line}", item.column, item.found, item.taken_as, item.why)
        for item in log.care[:most]
    )
    return Table(
        "Every cell read with care",
        ("place", "column", "found", "taken as", "why"),
        rows,
        note=_cut(len(log.care), most, "tables/cells_read_with_care.csv"),
    )


def _set_aside(log: RunLog, most: int) -> Table | None:
    if not len(log.set_aside):
        return None
    shown = log.set_aside[["file", "line", "reason"]].head(most)
    rows = tuple(
        (f"{file}, line {line}", str(reason))
        for file, line, reason in shown.itertuples(index=False, name=None)
    )
    return Table(
        "Rows set aside",
        ("place", "reason"),
        rows,
        note=_cut(len(log.set_aside), most, "set_aside.csv")
        or "Whole, as found, in set_aside.csv.",
    )


def _columns(log: RunLog, most: int) -> Table | None:
    if not log.columns:
        return None
    rows = tuple(
        (
            match.header,
            match.file,
            match.parameter or "left alone",
            match.unit_read or "–",
            match.how,
        )
        for match in log.columns[:most]
    )
    return Table(
        "How each column was understood",
        ("header", "file", "taken as", "unit read", "how"),
        rows,
        note=_cut(len(log.columns), most, "tables/columns.csv"),
    )


def _unmatched(log: RunLog) -> str:
    headers = list(dict.fromkeys(match.header for match in log.columns if match.parameter is None))
    if not headers:
        return ""
    shown = [f"“{header}”" for header in headers[:10]]
    if len(headers) > 10:
        shown.append(count(len(headers) - 10, "other"))
    fits = agree(len(headers), "fits no parameter and was", "fit no parameter and were")
    return f"{listed(shown)} {fits} left alone."


def _place(problem: Problem) -> str:
    return problem.file if problem.line is None else f"{problem.file}, line {problem.line}"


def _cut(total: int, most: int, where: str) -> str:
    if total <= most:
        return ""
    return f"The first {most} of {grouped(total)}; all of them are in {where}."
