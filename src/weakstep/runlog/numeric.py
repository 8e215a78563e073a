"""Columns of numbers."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from weakstep.runlog.cells import LARGEST, Expected, Reading, read_number
from weakstep.runlog.column import Column
from weakstep.runlog.marks import DITTO_WORDS
from weakstep.runlog.units import convert

if TYPE_CHECKING:
    import numpy as np

_POINT_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_COMMA_NUMBER = re.compile(r"[+-]?[0-9]+(?:,[0-9]+)?")

_THREE_DECIMALS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")
_SURE_DECIMALS = re.compile(r"(?:0|[0-9]{4,}),[0-9]{3,}|[0-9]+,[0-9]{4,}")
_UNCLEAR = Reading(None, code="unclear_comma")


def number_column(column: Column) -> np.ndarray:
    """
    Read a column of numbers: the plain ones at once, each other text once.

    Returns
    -------
    array of float, shape (n_rows,)
        In the unit of the description; NaN where missing.
    """
    import numpy as np

    distinct = np.array([*column.texts.distinct, ""], dtype=object)
    values_of = _plain_numbers(column.expected, distinct)
    readings: dict[int, Reading] = dict.fromkeys(_maybe_thousands(column), _UNCLEAR)
    values_of[list(readings)] = np.nan
    for code in np.flatnonzero(np.isnan(values_of) & (distinct != "")).tolist():
        text = column.texts.distinct[code]
        if code in readings or text.casefold() in DITTO_WORDS:
            continue
        reading = read_number(text, column.expected)
        if reading.value is not None:
            values_of[code] = round(reading.value, 9)
        readings[code] = reading
    values: np.ndarray = values_of[column.texts.codes]
    _tell_readings(column, readings)
    for row, above in column.fill_ditto(values):
        shown, why = "missing", "the cell above is missing"
        if not np.isnan(above):
            shown = f"{above:.6g} {column.parameter.unit}".strip()
            why = "same as the row above"
        column.care(row, shown, why)
    return values


def _tell_readings(column: Column, readings: dict[int, Reading]) -> None:
    """Tell what every text that is no plain number was taken for; vague ones are asked once."""
    unit = column.parameter.unit
    vague: dict[int, list[int]] = {}
    for row, code in column.rows_by_text(list(readings)):
        reading = readings[code]
        shown = _shown(reading, unit)
        if reading.why:
            column.care(row, shown, reading.why)
        if reading.bound is not None:
            column.bound(row, *reading.bound)
        if reading.value is None and reading.code:
            _tell_number(column, row, reading)
        elif reading.code == "vague_value":
            vague.setdefault(code, []).append(row)
    for code, rows in vague.items():
        _ask_vague(column, rows, readings[code])


def _shown(reading: Reading, unit: str) -> str:
    if reading.bound is not None:
        side, value = reading.bound
        return f"{side} {value:.6g} {unit}".strip()
    return "missing" if reading.value is None else f"{reading.value:.6g} {unit}".strip()


def _plain_numbers(expected: Expected, texts: np.ndarray) -> np.ndarray:
    """Return the numbers that are written plainly, NaN for every other text."""
    import numpy as np

    match = (_COMMA_NUMBER if expected.decimal_comma else _POINT_NUMBER).fullmatch
    nan = float("nan")
    if expected.decimal_comma:
        numbers = [float(text.replace(",", ".")) if match(text) else nan for text in texts]
    else:
        numbers = [float(text) if match(text) else nan for text in texts]
    values = np.array(numbers, dtype=float)
    values[np.abs(values) > LARGEST] = np.nan
    if expected.ratio:
        values[values < 1] = np.nan
    if expected.absolute:
        values[values < 0] = np.nan
    if expected.written_in != expected.unit:
        values = np.round(_converted(expected)(values), 9)
    return values


def _maybe_thousands(column: Column) -> list[int]:
    """
    Return the texts like 1,200 that may mean 1200 in a file with decimal commas.

    They may where 1200 would be plausible, and no other number of the column has three decimals
    or more: a column that always writes three decimals means them.
    """
    if not column.expected.decimal_comma:
        return []
    distinct = column.texts.distinct
    doubted = [code for code, text in enumerate(distinct) if _THREE_DECIMALS.fullmatch(text)]
    others = [text for text in distinct if _COMMA_NUMBER.fullmatch(text)]
    always = len(doubted) > 2 and len(doubted) == len(others)
    if not doubted or always or any(_SURE_DECIMALS.fullmatch(text) for text in others):
        return []
    lower, upper = column.parameter.lower, column.parameter.upper
    unit, into = column.expected.written_in, column.expected.unit
    thousands = {
        code: convert(float(distinct[code].replace(",", "")), unit, into) for code in doubted
    }
    return [
        code
        for code, value in thousands.items()
        if (lower is None or value >= lower) and (upper is None or value <= upper)
    ]


def _converted(expected: Expected) -> Callable[[np.ndarray], np.ndarray]:
    """Return the linear map from the unit written to the unit described."""
    zero = convert(0.0, expected.written_in, expected.unit)
    slope = convert(1.0, expected.written_in, expected.unit) - zero
    return lambda values: values * slope + zero


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
        column.question(
            row,
            reading.code,
            f"The value is {reading.why}: that is kept, and the cell is missing where a number "
            "is needed.",
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
