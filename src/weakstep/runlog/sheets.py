"""A table of cells -> a sheet whose columns are known by their parameter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from weakstep.errors import LogError
from weakstep.runlog.columns import HeaderBook
from weakstep.runlog.findings import Findings
from weakstep.runlog.header import find_header
from weakstep.runlog.model import ColumnMatch
from weakstep.runlog.tables import Row, Table


@dataclass(frozen=True)
class AsideRow:
    """A row kept out: its cells under the headers of its file, and the reason."""

    file: str
    line: int
    reason: str
    cells: dict[str, str]


@dataclass(frozen=True)
class Sheet:
    """
    The rows of one file.

    Attributes
    ----------
    headers : tuple of str
    matches : tuple of ColumnMatch
    rows : tuple of Row
        Data rows, each padded to the width of the header.
    clock_column : int or None
        Index of a column with the time of day that belongs to the date column.
    aside : tuple of AsideRow
        Rows that do not fit the header.
    rows_read : int
    """

    file: str
    headers: tuple[str, ...]
    matches: tuple[ColumnMatch, ...]
    rows: tuple[Row, ...]
    clock_column: int | None
    decimal_comma: bool
    aside: tuple[AsideRow, ...]
    rows_read: int


def open_sheet(table: Table, book: HeaderBook, findings: Findings) -> Sheet:
    """
    Find the header, match its columns and sort out rows that do not fit it.

    Raises
    ------
    LogError
        No line looks like a header of the described process, or no row follows it.
    """
    header = find_header(table, book, findings)
    if table.open_quote is not None:
        findings.problem(
            "open_quote",
            "question",
            "A quote is opened here and never closed, so quotes were read as plain characters.",
            "Remove the quote, or close it.",
            file=table.file,
            line=table.open_quote,
        )
    rows, aside = _fitting(table, header.rows_from, header.names, findings)
    if not rows and not aside:
        msg = f"{table.file}: the file has a header but no rows. Add one row per chip or run."
        raise LogError(msg)
    return Sheet(
        table.file,
        header.names,
        header.matches,
        tuple(rows),
        header.clock_column,
        table.decimal_comma,
        tuple(aside),
        len(rows) + len(aside),
    )


def _fitting(
    table: Table, rows_from: int, headers: tuple[str, ...], findings: Findings
) -> tuple[list[Row], list[AsideRow]]:
    """Return the rows that fit the header, padded, and those that do not."""
    width = len(headers)
    rows: list[Row] = []
    aside: list[AsideRow] = []
    for row in table.rows[rows_from:]:
        cells = row.cells
        reason = _misfit(row, headers)
        if reason is not None:
            message, action = reason
            findings.problem(
                "row_does_not_fit",
                "set_aside",
                message,
                action,
                file=table.file,
                line=row.line,
                found=" | ".join(cell for cell in cells if cell.strip()),
            )
            aside.append(AsideRow(table.file, row.line, message, _by_header(headers, cells)))
            continue
        if len(cells) < width:
            cells = (*cells, *[""] * (width - len(cells)))
        rows.append(Row(row.line, cells[:width]))
    return rows, aside


def _misfit(row: Row, headers: tuple[str, ...]) -> tuple[str, str] | None:
    """Return what is wrong with a row and what to do, None when it fits the header."""
    width = len(headers)
    filled = [cell for cell in row.cells if cell.strip()]
    if any(cell.strip() for cell in row.cells[width:]):
        return (
            f"The row has {len(row.cells)} cells and the header {width}: cells may be shifted.",
            "Look for a delimiter too many in the row.",
        )
    if tuple(" ".join(cell.split()) for cell in row.cells) == headers:
        return "The line repeats the header.", "Delete it."
    if len(filled) == 1 and width >= 4:
        return (
            "The line holds one filled cell only and was taken for a remark.",
            "Move remarks to the notes column; if it is a row, fill in its other cells.",
        )
    return None


def _by_header(headers: tuple[str, ...], cells: Sequence[str]) -> dict[str, str]:
    """Return the cells under their headers; cells beyond the header under made-up ones."""
    named: dict[str, str] = {}
    for index, cell in enumerate(cells):
        name = headers[index] if index < len(headers) and headers[index] else f"column {index + 1}"
        named[name if name not in named else f"{name} ({index + 1})"] = cell
    return named


def aside_cells(sheet: Sheet, row: Row) -> dict[str, str]:
    """Return the cells of a row of *sheet* under their headers."""
    return _by_header(sheet.headers, row.cells)
