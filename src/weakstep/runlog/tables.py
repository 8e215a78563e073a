"""The text of a file -> rows of cells with their physical line numbers."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from dataclasses import dataclass
from typing import NoReturn

from weakstep.errors import LogError
from weakstep.runlog.files import TextFile

_DELIMITERS = ",;\t|"
_SAMPLE_LINES = 40
_COMMA_NUMBER = re.compile(r"[+-]?\d+,\d+")
_POINT_NUMBER = re.compile(r"[+-]?\d+\.\d+")


@dataclass(frozen=True)
class Row:
    """A row: the line it starts on, counted from 1, and its cells as written."""

    line: int
    cells: tuple[str, ...]

    @property
    def empty(self) -> bool:
        """Whether no cell holds anything."""
        return not any(cell.strip() for cell in self.cells)


@dataclass(frozen=True)
class Table:
    """
    All rows of a file that hold anything, the header still among them.

    Attributes
    ----------
    delimiter : str
    decimal_comma : bool
        Whether the file writes 3,5 for three and a half.
    open_quote : int or None
        Line where a quote is opened that nothing closes; quotes were then read as characters.
    """

    file: str
    rows: tuple[Row, ...]
    delimiter: str
    decimal_comma: bool
    open_quote: int | None


def read_table(source: TextFile) -> Table:
    """
    Split the text of a file into rows and cells.

    Raises
    ------
    LogError
        The file is empty, or a cell is absurdly long.
    """
    if not any(character.isalnum() for character in source.text):
        _refuse_empty(source.name)
    delimiter = _delimiter(source.text)
    rows, open_quote = _rows(source, delimiter)
    if not rows:
        _refuse_empty(source.name)
    return Table(source.name, rows, delimiter, _writes_decimal_comma(rows, delimiter), open_quote)


def _refuse_empty(name: str) -> NoReturn:
    msg = f"{name}: the file is empty. Give a log with a header line and rows."
    raise LogError(msg)


def _delimiter(text: str) -> str:
    """Return the delimiter that splits the first lines into the most cells, the most evenly."""
    sample = "\n".join(text.splitlines()[:_SAMPLE_LINES])
    scores = {}
    for delimiter in _DELIMITERS:
        rows = csv.reader(io.StringIO(sample), delimiter=delimiter)
        try:
            widths = Counter(len(row) for row in rows if any(cell.strip() for cell in row))
        except csv.Error:
            continue
        if not widths:
            continue
        width, times = max(widths.items(), key=lambda item: (item[1] * (item[0] - 1), item[0]))
        scores[delimiter] = (width - 1) * times
    return max(scores, key=lambda delimiter: scores[delimiter]) if scores else ","


def _rows(source: TextFile, delimiter: str) -> tuple[tuple[Row, ...], int | None]:
    rows = _parsed(source, delimiter, csv.QUOTE_MINIMAL)
    last = source.text.rstrip("\r\n")
    swallowed = rows[-1] if rows else None
    if (
        swallowed is not None
        and source.text.count('"') % 2 == 1
        and any("\n" in cell or "\r" in cell for cell in swallowed.cells)
        and not last.endswith('"')
    ):
        return _parsed(source, delimiter, csv.QUOTE_NONE), swallowed.line
    return rows, None


def _parsed(source: TextFile, delimiter: str, quoting: int) -> tuple[Row, ...]:
    reader = csv.reader(io.StringIO(source.text, newline=""), delimiter=delimiter, quoting=quoting)  # type: ignore[arg-type]
    rows = []
    start = 1
    try:
        for cells in reader:
            row = Row(start, tuple(cells))
            start = reader.line_num + 1
            if not row.empty:
                rows.append(row)
    except csv.Error as error:
        msg = (
            f"{source.name}:{start}: the line cannot be split into cells ({error}). "
            "Look for a quote that is never closed, or save the log as CSV again."
        )
        raise LogError(msg) from None
    return tuple(rows)


def _writes_decimal_comma(rows: tuple[Row, ...], delimiter: str) -> bool:
    """Whether numbers with a comma outnumber those with a point; in a comma file, all of them."""
    commas = points = 0
    for row in rows:
        for cell in row.cells:
            text = cell.strip()
            commas += bool(_COMMA_NUMBER.fullmatch(text))
            points += bool(_POINT_NUMBER.fullmatch(text))
    return commas > (0 if delimiter == "," else points) and commas > points
