"""A table of cells -> a sheet whose columns are known by their parameter."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from weakstep.errors import LogError
from weakstep.runlog.columns import HeaderBook
from weakstep.runlog.findings import Findings
from weakstep.runlog.header import ACCEPTED, Header, find_header
from weakstep.runlog.model import ColumnMatch
from weakstep.runlog.safe import as_typed
from weakstep.runlog.tables import Row, Table
from weakstep.runlog.texts import Texts

if TYPE_CHECKING:
    import numpy as np

# Words that begin a line of sums or statistics; "min" and "max" may also be names of people.
_SUMMARY = re.compile(
    r"(?:(?:sub|grand\s|zwischen)?[\s-]?(?:totals?|summe)|sum|mean|average|avg\.?|median|std?\.?|"
    r"st(?:\.|(?:an)?d(?:ard)?\.?)\s?dev(?:iation)?\.?|stabw\.?|gesamt|mittel(?:wert)?|moyenne|"
    r"[ée]cart[- ]type|sous-total|somme|promedio|media|suma|desv\.?\s?(?:est\.?)?|n\s?=\s?\d+)"
    r"(?:\s*[:=]|\s+(?:of|for|von|de|week|woche|semaine|semana|\d+)\b.*)?",
    re.IGNORECASE,
)
_WEAK_SUMMARY = frozenset(
    ["min", "max", "min.", "max.", "minimum", "maximum", "n", "count", "anzahl"]
)
_LONGEST_SUMMARY = 24


def _in_all_cases(words: Sequence[str]) -> frozenset[str]:
    return frozenset(form for word in words for form in (word, word.upper(), word.capitalize()))


# The first two letters of all of them: enough to pass over nearly every other text at once.
_SUMMARY_STARTS = _in_all_cases(
    [
        *("to", "su", "me", "av", "st", "ge", "mi", "mo", "éc", "ec", "so", "pr", "de", "n="),
        *("n ", "ma", "co", "an", "gr", "zw", "sd", "n", "s"),
    ]
)


@dataclass(frozen=True)
class AsideRow:
    """A row kept out: its cells under the headers of its file, and the reason."""

    file: str
    line: int
    reason: str
    cells: dict[str, str]


@dataclass(frozen=True, eq=False)
class Sheet:
    """
    The rows of one file.

    Attributes
    ----------
    headers : tuple of str
    matches : tuple of ColumnMatch
    lines : array of int, shape (n_rows,)
    columns : tuple of Texts
        The cells under each header, without spaces around them.
    clock_column : int or None
        Index of a column with the time of day that belongs to the date column.
    aside : tuple of AsideRow
        Rows that do not fit the header.
    rows_read : int
    """

    file: str
    headers: tuple[str, ...]
    matches: tuple[ColumnMatch, ...]
    lines: np.ndarray
    columns: tuple[Texts, ...]
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
    table = _unmerged(table, header, findings)
    stripped = [column.map(as_typed) for column in table.columns]
    fits, aside = _fitting(table, stripped, header, findings)
    if not len(fits) and not aside:
        msg = f"{table.file}: the file has a header but no rows. Add one row per chip or run."
        raise LogError(msg)
    width = len(header.names)
    _accept(table, fits, header.names, findings)
    return Sheet(
        table.file,
        header.names,
        header.matches,
        table.lines[fits],
        tuple(column.take(fits) for column in stripped[:width]),
        header.clock_column,
        table.decimal_comma,
        tuple(aside),
        len(fits) + len(aside),
    )


def _accept(table: Table, fits: np.ndarray, names: tuple[str, ...], findings: Findings) -> None:
    """Hand over which questions a corrected copy says were looked at."""
    for name, column in zip(names, table.columns, strict=False):
        if name.casefold() == ACCEPTED:
            for index in fits[column.where(str.strip)[fits]].tolist():
                findings.accept(table.file, int(table.lines[index]), column[index].split())


def _unmerged(table: Table, header: Header, findings: Findings) -> Table:
    """Give rows that a workbook merges in one column the value they show; each is told."""
    import numpy as np

    columns = list(table.columns)
    for merged in table.merged:
        inside = (table.lines >= merged.first_line) & (table.lines <= merged.last_line)
        inside[: header.rows_from] = False
        rows = np.flatnonzero(inside)
        if merged.width > 1 or len(rows) < 2 or merged.column >= len(header.names):
            continue
        column = columns[merged.column]
        text, codes = column[int(rows[0])], column.codes.copy()
        codes[rows] = codes[rows[0]]
        columns[merged.column] = Texts(codes, column.distinct)
        name = header.names[merged.column]
        for line in table.lines[rows[1:]].tolist() if text.strip() else []:
            findings.care(table.file, line, name, "", text, "the cell is merged with those above")
    return replace(table, columns=tuple(columns))


def _fitting(
    table: Table, stripped: Sequence[Texts], header: Header, findings: Findings
) -> tuple[np.ndarray, list[AsideRow]]:
    """Return the indices of the rows that fit the header, and those that do not fit as aside."""
    import numpy as np

    aside: list[AsideRow] = []
    headers = header.names
    doubted = _doubted(stripped, header)
    doubted[: header.rows_from] = False
    fits = np.ones(len(table), dtype=bool)
    fits[: header.rows_from] = False
    for index in np.flatnonzero(doubted).tolist():
        row = table.row(index)
        reason = _misfit(row, header)
        if reason is None:
            continue
        message, action = reason
        findings.problem(
            "row_does_not_fit",
            "set_aside",
            message,
            action,
            file=table.file,
            line=row.line,
            found=" | ".join(cell for cell in row.cells if cell.strip()),
        )
        aside.append(AsideRow(table.file, row.line, message, _by_header(headers, row.cells)))
        fits[index] = False
    return np.flatnonzero(fits), aside


def _doubted(stripped: Sequence[Texts], header: Header) -> np.ndarray:
    """Return a mask of the rows worth looking at one by one: all that could not fit."""
    import numpy as np

    headers = header.names
    width = len(headers)
    described = np.zeros(len(stripped[0]), dtype=bool)
    filled = np.zeros(len(stripped[0]), dtype=np.int32)
    doubted = np.zeros(len(stripped[0]), dtype=bool)
    for index, column in enumerate(stripped):
        holds = column.filled()
        filled += holds
        if index < width and header.matches[index].parameter is not None:
            described |= holds
        doubted |= holds if index >= width else _summaries(column)
    first = next((index for index, name in enumerate(headers) if name), 0)
    word = headers[first].partition(" ")[0]
    again = [
        code
        for code, text in enumerate(stripped[first].distinct)
        if text.startswith(word) and " ".join(text.split()) == headers[first]
    ]
    doubted |= stripped[first].holding(again) | (filled == 1) | ~described
    return doubted


def _summaries(column: Texts) -> np.ndarray:
    texts = enumerate(column.distinct)
    return column.holding(
        [
            code
            for code, text in texts
            if text[:2] in _SUMMARY_STARTS
            and len(text) < _LONGEST_SUMMARY
            and (_is_summary(text) or text.casefold() in _WEAK_SUMMARY)
        ]
    )


def _is_summary(text: str) -> bool:
    return len(text) < _LONGEST_SUMMARY and _SUMMARY.fullmatch(text.strip()) is not None


def _is_statistics(filled: Sequence[str]) -> bool:
    """Whether the first cell is "min", "max" or a count, and all others are numbers."""
    if filled[0].strip(" :=").casefold() not in _WEAK_SUMMARY or len(filled) < 2:
        return False
    return all(cell[:1].isdigit() or cell[:1] in "-+.," for cell in filled[1:])


def _misfit(row: Row, header: Header) -> tuple[str, str] | None:
    """Return what is wrong with a row and what to do, None when it fits the header."""
    headers = header.names
    width = len(headers)
    filled = [cell.strip() for cell in row.cells if cell.strip()]
    if any(cell.strip() for cell in row.cells[width:]):
        return (
            f"The row has {len(row.cells)} cells and the header {width}: cells may be shifted.",
            "Look for a delimiter too many in the row.",
        )
    cells = tuple(" ".join(cell.split()) for cell in row.cells)
    if cells + ("",) * (width - len(cells)) == headers:
        return "The line repeats the header.", "Delete it."
    if len(filled) == 1 and width >= 4:
        return (
            "The line holds one filled cell only and was taken for a remark.",
            "Move remarks to the notes column; if it is a row, fill in its other cells.",
        )
    if not any(
        cell.strip() and match.parameter is not None
        for cell, match in zip(row.cells, header.matches, strict=False)
    ):
        return (
            "No described column of the line is filled in, so it is no row of the log.",
            "Nothing to do, unless a column should count: then describe it.",
        )
    if filled and (_is_summary(filled[0]) or _is_statistics(filled)):
        return (
            "The line is a total or a mean of the rows and not a row.",
            "Nothing to do; or delete it.",
        )
    return None


def _by_header(headers: tuple[str, ...], cells: Sequence[str]) -> dict[str, str]:
    """Return the cells under their headers; cells beyond the header under made-up ones."""
    named: dict[str, str] = {}
    for index, cell in enumerate(cells):
        name = headers[index] if index < len(headers) and headers[index] else f"column {index + 1}"
        named[name if name not in named else f"{name} ({index + 1})"] = cell
    return named


def rows_aside(sheet: Sheet, reason: str) -> list[AsideRow]:
    """Return all rows of a sheet as set aside for one reason."""
    return [
        AsideRow(
            sheet.file,
            int(line),
            reason,
            _by_header(sheet.headers, [column[row] for column in sheet.columns]),
        )
        for row, line in enumerate(sheet.lines)
    ]
