"""Columns of numbers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from weakstep.runlog.cells import LARGEST, Expected, Reading, read_number
from weakstep.runlog.column import Column
from weakstep.runlog.marks import DITTO_WORDS
from weakstep.runlog.units import convert

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

_POINT_NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
_COMMA_NUMBER = r"[+-]?[0-9]+(?:,[0-9]+)?"


def number_column(column: Column) -> np.ndarray:
    """
    Read a column of numbers: plain ones at once, the others cell by cell.

    Returns
    -------
    array of float, shape (n_rows,)
        In the unit of the description; NaN where missing.
    """
    import numpy as np
    import pandas as pd

    texts = pd.Series(list(column.texts), dtype=object)
    values = _plain_numbers(column.expected, texts)
    slow = np.isnan(values) & (texts != "").to_numpy(dtype=bool)
    known: dict[str, Reading] = {}
    vague: dict[str, list[int]] = {}
    for row in np.flatnonzero(slow).tolist():
        values[row] = _slow_number(column, row, values, known)
        reading = known.get(column.texts[row])
        if reading is not None and reading.code == "vague_value":
            vague.setdefault(column.texts[row], []).append(row)
    for text, rows in vague.items():
        _ask_vague(column, rows, known[text])
    return values


def _plain_numbers(expected: Expected, texts: pd.Series) -> np.ndarray:
    """Return the numbers that are written plainly, NaN for every other cell."""
    import numpy as np
    import pandas as pd

    pattern = _COMMA_NUMBER if expected.decimal_comma else _POINT_NUMBER
    is_plain = texts.str.fullmatch(pattern).to_numpy(dtype=bool)
    values = np.full(len(texts), np.nan)
    plain_texts = texts[is_plain].str.replace(",", ".", regex=False)
    values[is_plain] = pd.to_numeric(plain_texts).to_numpy(dtype=float)
    values[np.abs(values) > LARGEST] = np.nan
    if expected.ratio:
        values[values < 1] = np.nan
    if expected.written_in != expected.unit:
        values = np.round(_converted(expected)(values), 9)
    return values


def _converted(expected: Expected) -> Callable[[np.ndarray], np.ndarray]:
    """Return the linear map from the unit written to the unit described."""
    zero = convert(0.0, expected.written_in, expected.unit)
    slope = convert(1.0, expected.written_in, expected.unit) - zero
    return lambda values: values * slope + zero


def _slow_number(column: Column, row: int, values: np.ndarray, known: dict[str, Reading]) -> float:
    """Read one cell that is no plain number, and tell what it was taken for."""
    text = column.texts[row]
    if text.casefold() in DITTO_WORDS:
        return _ditto_number(column, row, values)
    if text not in known:
        known[text] = read_number(text, column.expected)
    reading = known[text]
    unit = column.parameter.unit
    value = float("nan") if reading.value is None else round(reading.value, 9)
    shown = "missing" if reading.value is None else f"{value:.6g} {unit}".strip()
    if reading.why:
        column.care(row, shown, reading.why)
    if reading.value is None and reading.code:
        _tell_number(column, row, reading)
    return value


def _ditto_number(column: Column, row: int, values: np.ndarray) -> float:
    import numpy as np

    above = float(values[row - 1]) if row > 0 else float("nan")
    if np.isnan(above):
        column.care(row, "missing", "the cell above is missing")
        return above
    column.care(row, f"{above:.6g} {column.parameter.unit}".strip(), "same as the row above")
    return above


def _ask_vague(column: Column, rows: Sequence[int], reading: Reading) -> None:
    """Ask once about a text that was taken for a number it does not quite say."""
    others = len(rows) - 1
    more = f"; the same in {others} more rows" if others else ""
    unit = column.parameter.unit
    shown = f"{reading.value:.6g} {unit}".strip()
    column.question(
        rows[0],
        "vague_value",
        f"Taken as {shown} ({reading.why}){more}.",
        f"Write a number{' in ' + unit if unit else ''} if that is wrong.",
    )


def _tell_number(column: Column, row: int, reading: Reading) -> None:
    expected = column.expected
    kind = f"a number in {expected.written_in}" if expected.written_in else "a number"
    if reading.code == "only_a_bound":
        column.missing(
            row,
            reading.code,
            f"The value is {reading.why}, so the cell counts as missing.",
            "Write the value itself if it is known.",
        )
    elif reading.code == "unclear_comma":
        column.missing(
            row,
            reading.code,
            "The comma or point could mark thousands or decimals, so the cell counts as missing.",
            f"Write {kind} without thousands marks.",
        )
    else:
        column.missing(
            row,
            "not_a_number",
            f"Expected {kind}; the cell counts as missing.",
            "Write the number, or leave the cell empty if it was not measured.",
        )
