"""The header of a log: which line it is, which columns it names, in which units."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from weakstep.errors import LogError
from weakstep.runlog.columns import UNKNOWN_UNIT, HeaderBook, match_headers
from weakstep.runlog.findings import Findings, shortened
from weakstep.runlog.headings import LOOK_IN, best_heading, lies_on_its_side
from weakstep.runlog.model import ColumnMatch
from weakstep.runlog.tables import Row, Table
from weakstep.runlog.units import unit_named

ACCEPTED = "accepted_questions"  # column of a corrected copy: codes not to be asked again
_TIME_OF_DAY = frozenset(
    ["time", "start time", "clock", "hour", "uhrzeit", "zeit", "heure", "hora", "time of day"]
)


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
    head = table.head(LOOK_IN + 1)
    heading = best_heading(table, book)
    names, last = heading.names, heading.last
    if lies_on_its_side(table, book, heading.score):
        msg = (
            f"{table.file}: the columns are named down the side, one run per column. Turn the "
            "table round (copy, then paste transposed), so that each run is a row."
        )
        raise LogError(msg)
    units = _units_in(head[last + 1 : last + 2], len(names))
    units_at = last + 1
    if units is None and heading.first > 0:
        units_at = heading.first - 1
        units = _units_in(head[units_at : units_at + 1], len(names))
    matches, repeated = match_headers(table.file, names, units or [""] * len(names), book)
    if not any(match.parameter for match in matches):
        msg = (
            f"{table.file}: no column of the header is described; found "
            f"{shortened(', '.join(name for name in names if name))}. "
            "Rename the columns, add aliases to the process description, or name another one."
        )
        raise LogError(msg)
    above = [row for at, row in enumerate(head[: heading.first]) if units is None or at != units_at]
    _tell_above_header(above, table.file, findings)
    if units is not None:
        _tell_units(head[units_at], table.file, findings)
    clock = _clock_column(names, matches)
    if clock is not None and names[clock] in repeated:
        repeated.remove(names[clock])
    _tell_columns(table.file, matches, repeated, clock, book, findings)
    return Header(
        names, tuple(matches), clock, last + (2 if units is not None and units_at > last else 1)
    )


def _units_in(rows: Sequence[Row], width: int) -> list[str] | None:
    """Return the units that a line beside the header states; None when it is no such line."""
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


def _clock_column(headers: Sequence[str], matches: Sequence[ColumnMatch]) -> int | None:
    """Return the column with the time of day, when the date stands in another one."""
    if not any(match.parameter == "started_at" for match in matches):
        return None
    for index, header in enumerate(headers):
        if matches[index].parameter is None and header.strip().casefold() in _TIME_OF_DAY:
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
        if match.how == UNKNOWN_UNIT and match.parameter is not None:
            _ask_unit(file, match, findings)
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


def _ask_unit(file: str, match: ColumnMatch, findings: Findings) -> None:
    findings.problem(
        "unknown_unit",
        "question",
        f"The column was read as {match.parameter} in {match.unit_read}; what stands in brackets "
        "is no unit that is known.",
        f"If the cells are not in {match.unit_read}, write their unit in the brackets.",
        file=file,
        column=match.header,
    )
