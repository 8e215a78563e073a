"""How a hand writes a value into a cell, and the sheet that its cells make up."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from semester_line import Chip, Value

Write = Callable[[Value], tuple[str, str]]


@dataclass(frozen=True)
class Cell:
    """
    One cell as written, with its honest reading.

    `honest` is a number in the description's unit, an outcome mode, a time or a name; "missing";
    or "ask" where nobody can know and the reader has to tell. `kind` names the mess; "plain"
    and "blank" are none.
    """

    text: str
    honest: str
    kind: str = "plain"


@dataclass(frozen=True)
class Column:
    """A column of one file: what it is, its header there, and how its values are written."""

    parameter: str
    header: str
    write: Write


@dataclass(frozen=True)
class Hand:
    """Who keeps a file, what it is called, and how its text is stored."""

    operators: tuple[str, ...]
    file: str
    delimiter: str
    encoding: str
    line_end: str


@dataclass
class Sheet:
    """One file while it is being written: `rows` maps each parameter to its cell."""

    hand: Hand
    columns: list[Column]
    rows: list[dict[str, Cell]]

    def set(self, row: int, parameter: str, text: str, honest: str, kind: str) -> None:
        """Overwrite one cell."""
        self.rows[row][parameter] = Cell(text, honest, kind)


def reading(value: float) -> str:
    """Write an honest reading of a number."""
    return f"{value:.7g}"


def number(
    decimals: int = 0,
    *,
    per_unit: float = 1.0,
    zero: float = 0.0,
    step: float = 0.0,
    mark: str = ".",
) -> Write:
    """
    Write numbers in a unit of which one is `per_unit` of the description's, counted from `zero`.

    `step` rounds to what a hurried hand writes (5, 10); `mark` is the decimal mark.
    """

    def write(value: Value) -> tuple[str, str]:
        if not isinstance(value, float):
            raise TypeError(value)
        there = zero + value / per_unit
        if step:
            there = step * round(there / step)
        text = f"{there:.{decimals}f}"
        return text.replace(".", mark), reading((float(text) - zero) * per_unit)

    return write


def name(value: Value) -> tuple[str, str]:
    """Write a name as it is."""
    return str(value), str(value)


def time(pattern: str) -> Write:
    """Write a date and time by a strftime pattern; %-d is a day without a leading zero."""

    def write(value: Value) -> tuple[str, str]:
        if not isinstance(value, datetime):
            raise TypeError(value)
        there = pattern.replace("%-d", str(value.day))
        return value.strftime(there), value.strftime("%Y-%m-%dT%H:%M")

    return write


def outcome(words: dict[str, tuple[str, ...]], rng: np.random.Generator) -> Write:
    """Write an outcome mode in one of this hand's own words."""

    def write(value: Value) -> tuple[str, str]:
        said = words.get(str(value), (str(value).replace("_", " "),))
        return str(rng.choice(said)), str(value)

    return write


def write_down(chips: list[Chip], hand: Hand, columns: list[Column]) -> Sheet:
    """Write the chips of a hand's operators as one sheet."""
    sheet = Sheet(hand, columns, [])
    for chip in chips:
        if chip.values["operator"] in hand.operators:
            sheet.rows.append({})
            for column in columns:
                text, honest = column.write(chip.values.get(column.parameter, ""))
                if text:
                    sheet.set(-1, column.parameter, text, honest, "plain")
                else:
                    sheet.set(-1, column.parameter, "", "missing", "blank")
    return sheet
