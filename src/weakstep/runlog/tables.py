"""Columns of cells, with the physical line number of every row; gathered row by row."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest
from typing import TYPE_CHECKING

from weakstep.runlog.texts import Texts, TextsBuilder

if TYPE_CHECKING:
    import numpy as np

_BLOCK = 512  # rows that are turned into columns at once: small enough to stay in the cache


@dataclass(frozen=True)
class Row:
    """A row: the line it starts on, counted from 1, and its cells as written."""

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True)
class Merged:
    """Cells of one column that a workbook shows as one: index of the column, lines, cells wide."""

    column: int
    first_line: int
    last_line: int
    width: int


@dataclass(frozen=True, eq=False)
class Table:
    """
    All rows of a file that hold anything, the header still among them.

    Attributes
    ----------
    lines : array of int, shape (n_rows,)
    widths : array of int, shape (n_rows,)
        Number of cells that each row writes.
    columns : tuple of Texts
        As many as the widest row has cells; rows that are shorter hold empty texts.
    decimal_comma : bool
        Whether the file writes 3,5 for three and a half.
    open_quote : int or None
        Line where a quote is opened that nothing closes; quotes were then read as characters.
    merged : tuple of Merged
    """

    file: str
    lines: np.ndarray
    widths: np.ndarray
    columns: tuple[Texts, ...]
    decimal_comma: bool
    open_quote: int | None = None
    merged: tuple[Merged, ...] = ()

    def __len__(self) -> int:
        return len(self.lines)

    def row(self, index: int) -> Row:
        """Return one row as it was written."""
        width = int(self.widths[index])
        cells = tuple(column[index] for column in self.columns[:width])
        return Row(int(self.lines[index]), cells)

    def head(self, count: int) -> list[Row]:
        """Return the first rows, at most *count*."""
        return [self.row(index) for index in range(min(count, len(self)))]

    def part(self, first: int, end: int) -> Table:
        """Return the rows from index *first* up to *end*, without it."""
        if (first, end) == (0, len(self)):
            return self
        rows = slice(first, end)
        columns = tuple(Texts(column.codes[rows], column.distinct) for column in self.columns)
        return replace(self, lines=self.lines[rows], widths=self.widths[rows], columns=columns)


class TableBuilder:
    """Gathers rows, block by block, into columns."""

    def __init__(self) -> None:
        self._columns: list[TextsBuilder] = []
        self._lines: list[int] = []
        self._widths: list[int] = []
        self._block: list[Sequence[str]] = []

    def add(self, line: int, cells: Sequence[str]) -> None:
        """Append a row unless it holds nothing."""
        if any(cells) and (cells[0].strip() or any(cell.strip() for cell in cells)):
            self._lines.append(line)
            self._block.append(cells)
            if len(self._block) == _BLOCK:
                self._flush()

    def _flush(self) -> None:
        self._widths += map(len, self._block)
        done = len(self._widths) - len(self._block)
        transposed = list(zip_longest(*self._block, fillvalue=""))
        while len(self._columns) < len(transposed):
            fresh = TextsBuilder()
            if done:
                fresh.add([""] * done)
            self._columns.append(fresh)
        for index, builder in enumerate(self._columns):
            empty = [""] * len(self._block)
            builder.add(transposed[index] if index < len(transposed) else empty)
        self._block = []

    def built(self, file: str, comma: Callable[[Sequence[Texts]], bool]) -> Table:
        """Return the table; *comma* decides from its columns whether decimals have commas."""
        import numpy as np

        self._flush()
        columns = tuple(builder.built() for builder in self._columns)
        return Table(
            file,
            np.array(self._lines, dtype=np.int64),
            np.array(self._widths, dtype=np.int32),
            columns,
            comma(columns),
        )
