"""The text of a file -> columns of cells: delimiters, quotes, decimal commas."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from itertools import islice
from typing import TYPE_CHECKING, NoReturn

from weakstep.errors import LogError
from weakstep.runlog.files import TextFile
from weakstep.runlog.tables import Table, TableBuilder
from weakstep.runlog.texts import Texts

if TYPE_CHECKING:
    import numpy as np

_DELIMITERS = ",;\t|"
_SAMPLE_LINES = 40
_LARGE = 1 << 20  # characters: below, taking rows in turn costs nothing
_WIDEST = 4096
_COMMA_NUMBER = re.compile(r"[+-]?\d+,\d+")
_POINT_NUMBER = re.compile(r"[+-]?\d+\.\d+")


def read_table(source: TextFile) -> Table:
    """
    Split the text of a file into columns of cells.

    Raises
    ------
    LogError
        The file is empty, or a cell or a row is absurdly long.
    """
    if not any(character.isalnum() for character in source.text):
        refuse_empty(source.name)
    delimiter = _delimiter(source.text)
    table = _split_at_once(source, delimiter) or _rows(source, delimiter)
    if not len(table):
        refuse_empty(source.name)
    return table


def refuse_empty(name: str) -> NoReturn:
    """Refuse a file that holds nothing."""
    msg = f"{name}: the file is empty. Give a log with a header line and rows."
    raise LogError(msg)


def _delimiter(text: str) -> str:
    """Return the delimiter that splits the first lines into the most cells, the most evenly."""
    lines = (line.rstrip("\r\n") for line in io.StringIO(text, newline=None))
    sample = "\n".join(islice(lines, _SAMPLE_LINES))
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


def _split_at_once(source: TextFile, delimiter: str) -> Table | None:
    """
    Split a large text without quotes in one sweep; None where rows must be taken in turn.

    Without quotes every line is a row and every delimiter ends a cell, so a parser that knows
    nothing of line numbers gives the same cells.
    """
    import numpy as np
    import pandas as pd

    if len(source.text) < _LARGE or '"' in source.text:
        return None
    text = source.text.replace("\r\n", "\n")
    if "\r" in text or "\x0c" in text:
        return None
    lines = text.removesuffix("\n").split("\n")
    count = len(lines)
    widths = np.fromiter((line.count(delimiter) + 1 for line in lines), np.int32, count)
    del lines
    if widths.max() > _WIDEST or widths.max() == 1:
        return None
    split = pd.read_csv(
        io.BytesIO(text.encode()),
        sep=delimiter,
        header=None,
        names=range(int(widths.max())),
        index_col=False,
        dtype=object,
        na_filter=False,
        skip_blank_lines=False,
        quoting=csv.QUOTE_NONE,
        low_memory=False,
    )
    if len(split) != count:
        return None
    columns = [_factorized(split.pop(name).to_numpy()) for name in list(split.columns)]
    holds = np.zeros(count, dtype=bool)
    for column in columns:
        blank = [code for code, text in enumerate(column.distinct) if not text or text.isspace()]
        holds |= ~column.holding(blank)
        if holds.all():
            break
    kept = np.flatnonzero(holds)
    kept_columns = tuple(column.take(kept) for column in columns)
    comma = _writes_decimal_comma(kept_columns, delimiter)
    return Table(source.name, kept + 1, widths[kept], kept_columns, comma)


def _factorized(cells: np.ndarray) -> Texts:
    import numpy as np
    import pandas as pd

    codes, distinct = pd.factorize(cells)
    return Texts(codes.astype(np.int32), tuple(distinct.tolist()))


def _rows(source: TextFile, delimiter: str) -> Table:
    """Take rows in turn; a quote that swallows lines without being closed is no quote."""
    table = _parsed(source, delimiter)
    if not any(
        "\n" in text or "\r" in text for column in table.columns for text in column.distinct
    ):
        return table
    opened = _open_quote(source, delimiter)
    if opened is None:
        return table
    return replace(_line_by_line(source, delimiter), open_quote=opened)


def _open_quote(source: TextFile, delimiter: str) -> int | None:
    """Return the line of the row whose quotes do not pair, None when all do."""
    reader = csv.reader(io.StringIO(source.text, newline=""), delimiter=delimiter, strict=True)
    start = 1
    try:
        for _ in reader:
            start = reader.line_num + 1
    except csv.Error:
        return start
    return None


def _line_by_line(source: TextFile, delimiter: str) -> Table:
    """Split every line by itself; in lines whose quotes do not pair, they are plain characters."""
    builder = TableBuilder()
    for number, line in enumerate(io.StringIO(source.text, newline=None), start=1):
        text = line.rstrip("\n")
        try:
            (cells,) = csv.reader([text], delimiter=delimiter, strict=True)
        except (csv.Error, ValueError):
            cells = [_unquoted(cell) for cell in text.split(delimiter)]
        _refuse_wide(source.name, number, cells)
        builder.add(number, cells)
    return builder.built(source.name, lambda columns: _writes_decimal_comma(columns, delimiter))


def _unquoted(cell: str) -> str:
    quoted = len(cell) > 1 and cell[0] == cell[-1] == '"'
    return cell[1:-1].replace('""', '"') if quoted else cell


def _refuse_wide(name: str, line: int, cells: Sequence[str]) -> None:
    if len(cells) > _WIDEST:
        msg = (
            f"{name}:{line}: the line has {len(cells)} cells, and no log is that wide. "
            "Save the log as CSV again."
        )
        raise LogError(msg)


def _parsed(source: TextFile, delimiter: str) -> Table:
    reader = csv.reader(io.StringIO(source.text, newline=""), delimiter=delimiter)
    builder = TableBuilder()
    start = 1
    try:
        for cells in reader:
            _refuse_wide(source.name, start, cells)
            builder.add(start, cells)
            start = reader.line_num + 1
    except csv.Error as error:
        msg = (
            f"{source.name}:{start}: the line cannot be split into cells ({error}). "
            "Look for a quote that is never closed, or save the log as CSV again."
        )
        raise LogError(msg) from None
    return builder.built(source.name, lambda columns: _writes_decimal_comma(columns, delimiter))


def _writes_decimal_comma(columns: Sequence[Texts], delimiter: str) -> bool:
    """Whether numbers with a comma outnumber those with a point; in a comma file, all of them."""
    commas = points = 0
    for column in columns:
        for text, count in zip(column.distinct, column.counts().tolist(), strict=True):
            if "," in text and _COMMA_NUMBER.fullmatch(text.strip()):
                commas += count
            elif "." in text and _POINT_NUMBER.fullmatch(text.strip()):
                points += count
    return commas > (0 if delimiter == "," else points) and commas > points
