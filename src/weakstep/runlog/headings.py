"""Which lines of a table are its header: one line, or a line of groups above one of names."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from weakstep.process.model import Parameter
from weakstep.runlog.columns import HeaderBook
from weakstep.runlog.tables import Merged, Row, Table

LOOK_IN = 10
_SIDE_LINES = 40
_ENOUGH_AT_THE_SIDE = 3


@dataclass(frozen=True)
class Heading:
    """
    A header that was found.

    Attributes
    ----------
    names : tuple of str
        One per column; a group and the name below it are joined where that names a column.
    first, last : int
        Index of its first and last line in the table.
    score : int
        How many described columns it names.
    """

    names: tuple[str, ...]
    first: int
    last: int
    score: int


def best_heading(table: Table, book: HeaderBook) -> Heading:
    """Return the line, or pair of lines, among the first ten that names the most columns."""
    rows = table.head(LOOK_IN)
    found = [_one_line(row, at, book) for at, row in enumerate(rows)]
    found += [
        _two_lines(rows[at - 1], row, at, table.merged, book)
        for at, row in enumerate(rows)
        if at and _could_be_names(row)
    ]
    # The first of the best: a single line before a pair that says no more.
    return max(found, key=lambda heading: heading.score)


def _one_line(row: Row, at: int, book: HeaderBook) -> Heading:
    names = tuple(" ".join(cell.split()) for cell in row.cells)
    return Heading(names, at, at, _score(names, book))


def _score(names: Sequence[str], book: HeaderBook) -> int:
    columns = {_column(name, book) for name in names if name}
    return len(columns - {None})


def _column(name: str, book: HeaderBook) -> str | None:
    parameter: Parameter | None = book.match(name).parameter
    return None if parameter is None else parameter.name


def _could_be_names(row: Row) -> bool:
    """Whether no cell of a line is a number: names never are."""
    return not any(cell.strip()[:1].isdigit() for cell in row.cells)


def _two_lines(
    above: Row, below: Row, at: int, merged: Sequence[Merged], book: HeaderBook
) -> Heading:
    width = max(len(above.cells), len(below.cells))
    groups = [" ".join(cell.split()) for cell in above.cells] + [""] * (width - len(above.cells))
    names = [" ".join(cell.split()) for cell in below.cells] + [""] * (width - len(below.cells))
    over = _groups_over(groups, above.line, merged)
    joined = []
    for own, group, name in zip(groups, over, names, strict=True):
        both = f"{group} {name}".strip()
        joined.append(both if name and group and _column(both, book) else name or own)
    return Heading(tuple(joined), at - 1, at, _score(joined, book))


def _groups_over(groups: Sequence[str], line: int, merged: Sequence[Merged]) -> list[str]:
    """Return the group that stands over each column: it reaches as far as its cell is merged."""
    over = list(groups)
    spans = {one.column: one.width for one in merged if one.first_line <= line <= one.last_line}
    group, reach = "", 0
    for index, text in enumerate(groups):
        if text:
            group, reach = text, spans.get(index, 1) if spans else len(groups)
        if reach > 0:
            over[index] = group
        reach -= 1
    return over


def lies_on_its_side(table: Table, book: HeaderBook, score: int) -> bool:
    """Whether the columns of a log are named down the first column: a run per column."""
    if score > 1 or len(table.columns) < 2:
        return False
    side = {_column(row.cells[0].strip(), book) for row in table.head(_SIDE_LINES) if row.cells}
    return len(side - {None}) >= _ENOUGH_AT_THE_SIDE


def later_headings(table: Table, heading: Heading, book: HeaderBook) -> list[int]:
    """
    Return the indices of lines below the header that are another header.

    Such a line holds header words where the header says that numbers or times follow, in at least
    two columns, and names at least three columns in all.
    """
    import numpy as np

    hits = np.zeros(len(table), dtype=np.int32)
    for name, column in zip(heading.names, table.columns, strict=False):
        parameter = book.match(name).parameter if name else None
        if parameter is None or parameter.kind not in ("number", "time"):
            continue
        words = [
            code
            for code, text in enumerate(column.distinct)
            if text.strip()[:1].isalpha() and _column(text.strip(), book)
        ]
        hits += column.holding(words)
    hits[: heading.last + 1] = 0
    return [
        index
        for index in np.flatnonzero(hits >= 2).tolist()
        if _is_another(table.row(index), heading, book)
    ]


def _is_another(row: Row, heading: Heading, book: HeaderBook) -> bool:
    names = tuple(" ".join(cell.split()) for cell in row.cells)
    padded = names + ("",) * (len(heading.names) - len(names))
    return padded != heading.names and _score(names, book) >= 3
