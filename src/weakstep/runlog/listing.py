"""What `check` shows: the columns as they were placed, and the problems, worst first, grouped."""

from __future__ import annotations

import csv
import io
import json
import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass

from weakstep.runlog.columns import HeaderBook
from weakstep.runlog.header import ACCEPTED
from weakstep.runlog.model import ColumnMatch, Problem, RunLog
from weakstep.runlog.safe import safe_cell

_EXAMPLES = 3
FIELDS = ("severity", "file", "line", "column", "found", "code", "message", "action")
_SAYS_WHAT_WAS_READ = (
    "only_a_bound",
    "vague_value",
    "row_does_not_fit",
)  # one message must not stand for another
_WORDS = {
    "set_aside": "rows set aside",
    "cell_missing": "cells that count as missing",
    "question": "questions",
    "note": "notes",
}


@dataclass(frozen=True)
class Group:
    """Problems of one kind in one column of one file; `first` stands for all."""

    first: Problem
    lines: tuple[int, ...]
    found: tuple[str, ...]


def grouped(problems: Iterable[Problem]) -> list[Group]:
    """Return the problems of a log gathered by file, column and kind; worst first, then largest."""
    gathered: dict[tuple[object, ...], list[Problem]] = {}
    for problem in problems:
        says_itself = problem.line is None or problem.code in _SAYS_WHAT_WAS_READ
        one_off = problem.message if says_itself else ""
        key = (problem.severity, problem.file, problem.column, problem.code, one_off)
        gathered.setdefault(key, []).append(problem)
    groups = [
        Group(
            several[0],
            tuple(sorted({p.line for p in several if p.line is not None})),
            tuple(dict.fromkeys(p.found for p in several if p.found)),
        )
        for several in gathered.values()
    ]
    order = list(_WORDS)
    groups.sort(key=lambda group: (order.index(group.first.severity), -len(group.lines)))
    return groups


def lines_words(lines: Sequence[int]) -> str:
    """
    Return lines as people list them.

    Examples
    --------
    >>> lines_words([3]), lines_words([4, 5, 6, 9])
    ('line 3', 'lines 4-6, 9')
    """
    spans: list[list[int]] = []
    for line in lines:
        if spans and line == spans[-1][1] + 1:
            spans[-1][1] = line
        else:
            spans.append([line, line])
    shown = [f"{a}" if a == b else f"{a}-{b}" for a, b in spans]
    if len(shown) > 12:
        shown = [*shown[:10], f"and {sum(b - a + 1 for a, b in spans[10:])} more"]
    return f"{'line' if len(lines) == 1 else 'lines'} {', '.join(shown)}"


def problems_text(log: RunLog) -> str:
    """Return the problems as a list to act on, under a heading for each severity."""
    out: list[str] = []
    severity = ""
    for group in grouped(log.problems):
        first = group.first
        if first.severity != severity:
            severity = first.severity
            out += ["", f"{_WORDS[severity].capitalize()}"]
        out.append("  " + _group_text(group))
    return "\n".join(out).lstrip("\n")


def _group_text(group: Group) -> str:
    first = group.first
    place = f"{first.file}:"
    if group.lines:
        place += f" {lines_words(group.lines)}:"
    if first.column:
        place += f" '{first.column}':"
    found = ""
    if group.found:
        examples = ", ".join(map(repr, group.found[:_EXAMPLES]))
        found = f" found {examples}{' ...' if len(group.found) > _EXAMPLES else ''}."
    return f"{place}{found} {first.message} {first.action}".rstrip()


def wrapped(text: str, width: int) -> str:
    """
    Return *text* with lines of at most *width* characters; what is left of a line stands deeper.

    Examples
    --------
    >>> print(wrapped("  log.csv: line 3: found 'x'. Expected a number.", 30))
      log.csv: line 3: found 'x'.
          Expected a number.
    """
    out = []
    for line in text.split("\n"):
        margin = " " * (len(line) - len(line.lstrip()))
        out += textwrap.wrap(
            line.strip(),
            width,
            initial_indent=margin,
            subsequent_indent=margin + "    ",
            break_long_words=False,
            break_on_hyphens=False,
        ) or [""]
    return "\n".join(out)


def columns_text(log: RunLog) -> str:
    """Return how every header was placed, file by file, and those that were left alone."""
    book = HeaderBook(log.process)
    out: list[str] = []
    for file in dict.fromkeys(match.file for match in log.columns):
        matches = [match for match in log.columns if match.file == file and _counts(match)]
        plain = [match for match in matches if match.parameter and match.how == "name"]
        columns = "column placed by its" if len(plain) == 1 else "columns placed by their"
        out.append(f"{file}: {len(plain)} {columns} own name")
        for match in matches:
            if match.parameter is None:
                nearest = book.nearest(match.header)
                asked = f" (is it {nearest}?)" if nearest else ""
                out.append(f"  '{match.header}' left alone{asked}")
            elif match.how != "name":
                unit = f" in {match.unit_read}" if match.unit_read else ""
                out.append(f"  '{match.header}' -> {match.parameter}{unit} ({match.how})")
    return "\n".join(out)


def _counts(match: ColumnMatch) -> bool:
    return bool(match.header) and match.header.casefold() != ACCEPTED


def problems_csv(log: RunLog) -> str:
    """Return one line per problem; no cell can act as a formula."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(FIELDS)
    for problem in log.problems:
        cells = asdict(problem)
        writer.writerow(
            ["" if cells[name] is None else safe_cell(str(cells[name])) for name in FIELDS]
        )
    return out.getvalue()


def check_json(log: RunLog) -> str:
    """Return everything `check` knows, for programs."""
    said = {
        "schema": "weakstep.check/1",
        "rows_read": log.rows_read,
        "rows_set_aside": len(log.set_aside),
        "inputs": [asdict(one) for one in log.inputs],
        "columns": [asdict(match) for match in log.columns],
        "problems": [asdict(problem) for problem in log.problems],
        "cells_read_with_care": [asdict(reading) for reading in log.care],
    }
    return json.dumps(said, ensure_ascii=False, indent=1) + "\n"
