"""A sheet's columns of text -> typed columns; plain cells at once, the others one by one."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from weakstep.process.model import Parameter, Process
from weakstep.process.words import plain
from weakstep.runlog.cells import DITTO_WORDS, MISSING_WORDS, Expected, Reading, read_number
from weakstep.runlog.findings import Findings
from weakstep.runlog.model import ColumnMatch
from weakstep.runlog.sheets import Sheet
from weakstep.runlog.times import time_column
from weakstep.runlog.units import convert

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

_POINT_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?"
_COMMA_NUMBER = r"[+-]?\d+(?:,\d+)?"
_EMPTY_WORDS = MISSING_WORDS - {"x", "ka", "nd", "na", "unknown", "."}
_YES = frozenset(
    ["yes", "y", "1", "1.0", "true", "t", "x", "✓", "✔", "ja", "j", "oui", "o", "si", "sí", "ok"]
)
_NO = frozenset(["no", "n", "0", "0.0", "false", "f", "none", "✗", "✘", "nein", "non", "never"])
_SPACE = re.compile(r"\s+")


def typed_sheet(sheet: Sheet, process: Process, findings: Findings) -> pd.DataFrame:
    """Return one typed column per matched header, with `file` and `line`."""
    import pandas as pd

    lines = [row.line for row in sheet.rows]
    columns: dict[str, object] = {"file": [sheet.file] * len(lines), "line": lines}
    for index, match in enumerate(sheet.matches):
        if match.parameter is not None:
            parameter = process.parameter(match.parameter)
            texts = [row.cells[index].strip() for row in sheet.rows]
            if parameter.name == "started_at" and sheet.clock_column is not None:
                texts = [
                    f"{text} {row.cells[sheet.clock_column].strip()}".strip() if text else text
                    for text, row in zip(texts, sheet.rows, strict=True)
                ]
            column = _Column(sheet, match, parameter, texts, lines, findings)
            columns[parameter.name] = _typed(column)
    return pd.DataFrame(columns)


def text_sheet(sheet: Sheet) -> pd.DataFrame:
    """Return the same columns as they were written."""
    import pandas as pd

    columns: dict[str, object] = {
        "file": [sheet.file] * len(sheet.rows),
        "line": [row.line for row in sheet.rows],
    }
    for index, match in enumerate(sheet.matches):
        if match.parameter is not None:
            columns[match.parameter] = [row.cells[index].strip() for row in sheet.rows]
    return pd.DataFrame(columns)


class _Column:
    """One column of one file on its way to typed values."""

    def __init__(
        self,
        sheet: Sheet,
        match: ColumnMatch,
        parameter: Parameter,
        texts: Sequence[str],
        lines: Sequence[int],
        findings: Findings,
    ) -> None:
        self.file = sheet.file
        self.header = match.header
        self.parameter = parameter
        self.texts = texts
        self.lines = lines
        self.findings = findings
        self.expected = Expected(
            parameter.unit, match.unit_read, sheet.decimal_comma, parameter.interchangeable
        )

    def care(self, row: int, taken_as: str, why: str) -> None:
        self.findings.care(self.file, self.lines[row], self.header, self.texts[row], taken_as, why)

    def missing(self, row: int, code: str, message: str, action: str) -> None:
        self._problem(row, code, "cell_missing", message, action)

    def question(self, row: int, code: str, message: str, action: str) -> None:
        self._problem(row, code, "question", message, action)

    def _problem(self, row: int, code: str, severity: str, message: str, action: str) -> None:
        self.findings.problem(
            code,
            "question" if severity == "question" else "cell_missing",
            message,
            action,
            file=self.file,
            line=self.lines[row],
            column=self.header,
            found=self.texts[row],
        )


def _typed(column: _Column) -> object:
    parameter = column.parameter
    if parameter.kind == "number":
        return _numbers(column)
    if parameter.kind == "yes_no":
        return _yes_no(column)
    if parameter.kind == "time":
        return time_column(column.texts, column.lines, column.file, column.header, column.findings)
    if parameter.kind == "category" and parameter.role != "outcome":
        return _categories(column)
    return [_SPACE.sub(" ", text) for text in column.texts]


# --------------------------------------------------------------------------- numbers


def _numbers(column: _Column) -> np.ndarray:
    import numpy as np
    import pandas as pd

    texts = pd.Series(list(column.texts), dtype=object)
    pattern = _COMMA_NUMBER if column.expected.decimal_comma else _POINT_NUMBER
    is_plain = texts.str.fullmatch(pattern).to_numpy(dtype=bool)
    values = np.full(len(texts), np.nan)
    plain_texts = texts[is_plain].str.replace(",", ".", regex=False)
    values[is_plain] = pd.to_numeric(plain_texts).to_numpy(dtype=float)
    if column.expected.ratio:
        is_plain = is_plain & ~(values < 1)
        values[~is_plain] = np.nan
    if column.expected.written_in != column.parameter.unit:
        factory = _converted(column.expected)
        values = np.round(factory(values), 9)
    is_plain = is_plain & np.isfinite(values)
    slow = ~is_plain & (texts != "").to_numpy(dtype=bool)
    known: dict[str, Reading] = {}
    for row in np.flatnonzero(slow):
        values[row] = _slow_number(column, int(row), values, known)
    return values


def _converted(expected: Expected) -> Callable[[np.ndarray], np.ndarray]:
    """Return the linear map from the unit written to the unit described."""
    zero = convert(0.0, expected.written_in, expected.unit)
    slope = convert(1.0, expected.written_in, expected.unit) - zero
    return lambda values: values * slope + zero


def _slow_number(column: _Column, row: int, values: np.ndarray, known: dict[str, Reading]) -> float:
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
    if reading.code:
        _tell_number(column, row, reading, shown)
    return value


def _ditto_number(column: _Column, row: int, values: np.ndarray) -> float:
    import numpy as np

    above = float(values[row - 1]) if row > 0 else float("nan")
    if np.isnan(above):
        column.care(row, "missing", "the cell above is missing")
        return above
    column.care(row, f"{above:.6g} {column.parameter.unit}".strip(), "same as the row above")
    return above


def _tell_number(column: _Column, row: int, reading: Reading, shown: str) -> None:
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
    elif reading.code == "vague_value":
        column.question(
            row,
            reading.code,
            f"The cell is no plain number; it was taken as {shown} ({reading.why}).",
            f"Write {kind} if that is wrong.",
        )
    else:
        column.missing(
            row,
            "not_a_number",
            f"Expected {kind}; the cell counts as missing.",
            "Write the number, or leave the cell empty if it was not measured.",
        )


# --------------------------------------------------------------------------- words


def _yes_no(column: _Column) -> list[float]:
    nan = float("nan")
    values: list[float] = []
    for row, text in enumerate(column.texts):
        word = text.casefold()
        value = nan
        if word in _YES:
            value = 1.0
        elif word in _NO:
            value = 0.0
        elif word in DITTO_WORDS:
            value = values[-1] if values else nan
            shown = {1.0: "yes", 0.0: "no"}.get(value, "missing")
            column.care(row, shown, "same as the row above")
        elif word in MISSING_WORDS:
            if word:
                column.care(row, "missing", "stands for a missing value")
        else:
            column.missing(
                row,
                "not_yes_or_no",
                "Expected yes or no; the cell counts as missing.",
                "Write yes or no.",
            )
        values.append(value)
    return values


def _categories(column: _Column) -> list[str]:
    canonical = {
        plain(other): name
        for name, others in column.parameter.spellings.items()
        for other in (name, *others)
    }
    values: list[str] = []
    for row, text in enumerate(column.texts):
        value = _SPACE.sub(" ", text)
        if text.casefold() in DITTO_WORDS:
            value = values[-1] if values else ""
            column.care(row, value or "missing", "same as the row above")
        elif text.casefold() in _EMPTY_WORDS:
            value = ""
            if text:
                column.care(row, "missing", "stands for a missing value")
        elif canonical and canonical.get(plain(value), value) != value:
            value = canonical[plain(value)]
            column.care(row, value, "another spelling, as the process description says")
        values.append(value)
    return values
