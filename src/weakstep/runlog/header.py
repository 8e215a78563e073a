"""The header of a log: which line it is, which columns it names, in which units."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from weakstep.errors import LogError
from weakstep.runlog.columns import HeaderBook, match_headers
from weakstep.runlog.findings import Findings, shortened
from weakstep.runlog.model import ColumnMatch
from weakstep.runlog.tables import Row, Table
from weakstep.runlog.units import unit_named

ACCEPTED = "accepted_questions"  # column of a corrected copy: codes not to be asked again
_LOOK_FOR_HEADER_IN = 10
_TIME_OF_DAY = frozenset(["time", "start time", "clock", "hour", "uhrzeit", "heure", "hora"])


@dataclass(frozen=True)
class Header:
    """
    A header that was found.

    Attributes
    ----------
    names : tuple of str
        Header texts, one per column.
    matches : tuple of ColumnMatch
    clock_column : int or None
        Index of a column with the time of day that belongs to the date column.
    rows_from : int
        Index of the first row of data in the table.
    """

    names: tuple[str, ...]
    matches: tuple[ColumnMatch, ...]
    clock_column: int | None
    rows_from: int


def find_header(table: Table, book: HeaderBook, findings: Findings) -> Header:
    """
    Find the header of a table and match its columns; whatever was left alone is told.

    Raises
    ------
    LogError
        No line names a column of the described process.
    """
    head = table.head(_LOOK_FOR_HEADER_IN + 1)
    at = _header_at(head, book)
    names = tuple(" ".join(cell.split()) for cell in head[at].cells)
    units = _units_below(head[at + 1 : at + 2], len(names))
    matches, repeated = match_headers(table.file, names, units or [""] * len(names), book)
    if not any(match.parameter for match in matches):
        msg = (
            f"{table.file}: no column of the header is described; found "
            f"{shortened(', '.join(name for name in names if name))}. "
            "Rename the columns, add aliases to the process description, or name another one."
        )
        raise LogError(msg)
    _tell_above_header(head[:at], table.file, findings)
    if units is not None:
        _tell_units(head[at + 1], table.file, findings)
    clock = _clock_column(names, matches, repeated)
    if clock is not None:
        repeated.remove(names[clock])
    _tell_columns(table.file, matches, repeated, clock, book, findings)
    return Header(names, tuple(matches), clock, at + (1 if units is None else 2))


def _units_below(rows: Sequence[Row], width: int) -> list[str] | None:
    """Return the units that a line below the header states; None when it is no such line."""
    if not rows:
        return None
    cells = [cell.strip() for cell in rows[0].cells[:width]]
    filled = [cell for cell in cells if cell and cell not in ("-", "–")]
    if len(filled) < 2 or any(unit_named(cell) is None for cell in filled):
        return None
    return [cell if unit_named(cell) else "" for cell in cells] + [""] * (width - len(cells))


def _tell_units(row: Row, file: str, findings: Findings) -> None:
    findings.problem(
        "units_line",
        "note",
        "The line was read as the units of the columns.",
        "Nothing to do, unless it is a row of data.",
        file=file,
        line=row.line,
        found=" ".join(cell for cell in row.cells if cell),
    )


def _header_at(rows: Sequence[Row], book: HeaderBook) -> int:
    """Return the index of the line, among the first ten, that names the most columns."""
    scores = _scores(rows, book)
    return scores.index(max(scores))


def _scores(rows: Sequence[Row], book: HeaderBook) -> list[int]:
    return [
        sum(book.match(cell).parameter is not None for cell in row.cells if cell.strip())
        for row in rows[:_LOOK_FOR_HEADER_IN]
    ]


def columns_named(table: Table, book: HeaderBook) -> int:
    """Return how many described columns the best line for a header names."""
    return max(_scores(table.head(_LOOK_FOR_HEADER_IN), book), default=0)


def _tell_above_header(rows: Sequence[Row], file: str, findings: Findings) -> None:
    for row in rows:
        findings.problem(
            "above_header",
            "note",
            "The line stands above the header and was left out.",
            "Nothing to do, unless it is the header: then rename its columns.",
            file=file,
            line=row.line,
            found=" ".join(cell for cell in row.cells if cell),
        )


def _clock_column(
    headers: Sequence[str], matches: Sequence[ColumnMatch], repeated: Sequence[str]
) -> int | None:
    """Return the column with the time of day, when the date stands in another one."""
    if not any(match.parameter == "started_at" for match in matches):
        return None
    for index, header in enumerate(headers):
        if header in repeated and header.strip().casefold() in _TIME_OF_DAY:
            return index
    return None


def _tell_columns(
    file: str,
    matches: Sequence[ColumnMatch],
    repeated: Sequence[str],
    clock: int | None,
    book: HeaderBook,
    findings: Findings,
) -> None:
    for index, match in enumerate(matches):
        if match.parameter is not None or not match.header or index == clock:
            continue
        if match.header.casefold() == ACCEPTED or book.is_chosen(match.header):
            continue
        if match.header in repeated:
            findings.problem(
                "repeated_column",
                "question",
                f"The column was left alone: {match.how}.",
                "Keep one of the two columns, or rename the other.",
                file=file,
                column=match.header,
            )
            continue
        nearest = book.nearest(match.header)
        findings.problem(
            "unknown_column",
            "note" if nearest is None else "question",
            "The column is not described and was left alone.",
            f"Is it {nearest}? Then rename it, or add an alias to the process description."
            if nearest
            else "Add it to the process description if it should count.",
            file=file,
            column=match.header,
        )
