"""Lines of a list of changes, from CSV or TOML: cells as text, and where each stands."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, NoReturn

from weakstep.errors import LogError
from weakstep.runlog.dates import DateCell, day_order, moment_of, read_date
from weakstep.runlog.files import decoded, read_raw
from weakstep.runlog.splitting import read_table

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from weakstep.runlog.dates import DayOrder

# Header words that mean the same, without case, blanks or underscores.
_WORDS = {
    "date": ("date", "day", "since", "when", "changedon"),
    "parameter": ("parameter", "column", "step", "steporparameter", "parameterorstep"),
    "change": ("change", "what", "whatwaschanged", "changed", "description"),
    "family": ("family", "failurefamily"),
    "window": ("window",),
    "from_review": ("fromreview", "review", "verdict", "actedon"),
    "notes": ("notes", "note", "comment"),
}
_MEANS = {word: name for name, words in _WORDS.items() for word in words}
_NEEDED = ("date", "change")
_TABLE = re.compile(r"\s*\[\[\s*change\s*\]\]")


@dataclass(frozen=True)
class Entry:
    """
    One change as it is written.

    Attributes
    ----------
    file : str
    line : int
        Of the entry; of each cell where `lines` says so.
    cells : mapping of column to str
    headers : mapping of column to str
        What the file calls it.
    lines : mapping of column to int
    order : "day first", "month first" or None
        How the file writes its dates; None when nothing tells.
    """

    file: str
    line: int
    cells: Mapping[str, str]
    headers: Mapping[str, str]
    lines: Mapping[str, int]
    order: DayOrder | None

    @property
    def place(self) -> str:
        """File and line."""
        return f"{self.file}:{self.line}"

    def text(self, column: str) -> str:
        """Return a cell without blanks around it, empty when it is not there."""
        return " ".join(self.cells.get(column, "").split())

    def refuse(self, column: str, expected: str) -> NoReturn:
        """Raise the one sentence about a cell."""
        found = self.text(column)
        msg = (
            f"{self.file}:{self.lines.get(column, self.line)}: column "
            f"'{self.headers.get(column, column)}': "
            f"{f'found {found!r}' if found else 'found nothing'}, {expected}."
        )
        raise LogError(msg)

    def day(self) -> date:
        """Return the date; refuse one that can be read in two ways."""
        cell = read_date(self.text("date"))
        if cell is None:
            self.refuse("date", "expected a day such as 2026-05-04")
        if self.order is None and cell.day_first != cell.month_first and None not in _ends(cell):
            self.refuse("date", "which may be two different days; write it as 2026-05-04")
        moment = moment_of(cell, self.order or "day first")
        if moment is None:
            self.refuse("date", "expected a day such as 2026-05-04")
        return moment.date()


def _ends(cell: DateCell) -> tuple[datetime | None, datetime | None]:
    return cell.day_first, cell.month_first


def entries_of(path: Path) -> list[Entry]:
    """
    Split a list of changes into its entries.

    Raises
    ------
    LogError
        The file is neither CSV nor TOML, cannot be read, or lacks a column.
    """
    suffix = path.suffix.lower()
    if suffix not in (".csv", ".tsv", ".toml"):
        msg = f"{path}: a list of changes is a .csv or .toml file; save it as one of them."
        raise LogError(msg)
    text = decoded(read_raw(path, path.name), path.name)
    return _from_toml(path.name, text.text) if suffix == ".toml" else _from_csv(path)


def _from_csv(path: Path) -> list[Entry]:
    table = read_table(decoded(read_raw(path, path.name), path.name))
    head = table.row(0)
    headers: dict[str, str] = {}
    places: dict[str, int] = {}
    for place, word in enumerate(head.cells):
        if not word.strip():
            continue
        name = _column(path.name, head.line, word.strip())
        if name in headers:
            msg = (
                f"{path.name}:{head.line}: columns '{headers[name]}' and '{word.strip()}' mean "
                f"the same ({name}); keep one."
            )
            raise LogError(msg)
        headers[name], places[name] = word.strip(), place
    for name in _NEEDED:
        if name not in headers:
            _lacks(path.name, head.line, name)
    rows = [table.row(index) for index in range(1, len(table))]
    cells = [
        {name: row.cells[place] for name, place in places.items() if place < len(row.cells)}
        for row in rows
    ]
    order = _order([cell.get("date", "") for cell in cells])
    return [
        Entry(path.name, row.line, cell, headers, {}, order)
        for row, cell in zip(rows, cells, strict=True)
    ]


def _column(file: str, line: int, word: str) -> str:
    name = _MEANS.get(re.sub(r"[\s_/-]+", "", word.lower()))
    if name is None:
        msg = (
            f"{file}:{line}: column '{word}' is not known in a list of changes; expected date and "
            "change, and if wanted parameter, family, window, from_review and notes."
        )
        raise LogError(msg)
    return name


def _lacks(file: str, line: int, name: str) -> NoReturn:
    what = {"date": "the first day with it", "change": "what was changed"}[name]
    msg = f"{file}:{line}: the list of changes has no column '{name}'; add it, with {what}."
    raise LogError(msg)


def _order(texts: list[str]) -> DayOrder | None:
    order, why = day_order([read_date(" ".join(text.split())) for text in texts])
    return order if why == "dates" else None


def _from_toml(file: str, text: str) -> list[Entry]:
    try:
        found = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        place = re.search(r"line (\d+), column (\d+)", str(error))
        where = f"{file}:{place[1]}: character {place[2]}" if place else file
        reason = str(error).partition(" (at")[0]
        msg = f"{where}: this is no TOML ({reason}); mend it, or write the list as CSV."
        raise LogError(msg) from error
    for key in found:
        if key != "change":
            msg = f"{file}: found '{key}', expected only tables [[change]]."
            raise LogError(msg)
    tables = found.get("change", [])
    lines = text.splitlines()
    starts = [number for number, line in enumerate(lines, 1) if _TABLE.match(line)]
    if not isinstance(tables, list) or len(starts) != len(tables):
        msg = f"{file}: expected each change as a table [[change]] of its own."
        raise LogError(msg)
    ends = [*starts[1:], len(lines) + 1]
    return [
        _toml_entry(file, table, start, lines[start : end - 1])
        for table, start, end in zip(tables, starts, ends, strict=True)
    ]


def _toml_entry(file: str, table: dict[str, Any], line: int, below: list[str]) -> Entry:
    cells: dict[str, str] = {}
    headers: dict[str, str] = {}
    lines: dict[str, int] = {}
    for key, value in table.items():
        own = next(
            (number for number, text in enumerate(below, line + 1) if _begins(text, key)), line
        )
        name = _column(file, own, key)
        headers[name], lines[name] = key, own
        cells[name] = value.isoformat() if isinstance(value, date) else str(value)
        if name != "date" and not isinstance(value, str):
            msg = f"{file}:{own}: '{key}' is {value!r}, expected text in quotes."
            raise LogError(msg)
    for name in _NEEDED:
        if name not in cells:
            _lacks(file, line, name)
    return Entry(file, line, cells, headers, lines, None)


def _begins(text: str, key: str) -> bool:
    return text.partition("=")[0].strip().strip("\"'") == key
