"""A sheet's columns of text -> typed columns; each different text is read once."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from weakstep.process.model import Process
from weakstep.runlog.column import Column
from weakstep.runlog.findings import Findings
from weakstep.runlog.numeric import number_column
from weakstep.runlog.outcomes import outcome_column
from weakstep.runlog.sheets import Sheet
from weakstep.runlog.texts import Texts, of_cells
from weakstep.runlog.times import time_column
from weakstep.runlog.wording import name_column, yes_no_column

if TYPE_CHECKING:
    import numpy as np

_DAY_PART = re.compile(r"0[.,]\d+")


def typed_sheet(sheet: Sheet, process: Process, findings: Findings) -> dict[str, np.ndarray]:
    """Return one typed column per matched header."""
    outcome = outcome_column(process)
    columns: dict[str, np.ndarray] = {}
    for index, match in enumerate(sheet.matches):
        if match.parameter is not None:
            parameter = process.parameter(match.parameter)
            texts = sheet.columns[index]
            if parameter.name == "started_at" and sheet.clock_column is not None:
                texts = _with_clock(texts, sheet.columns[sheet.clock_column])
            column = Column(sheet, match, parameter, texts, findings)
            columns[parameter.name] = (
                column.as_written() if parameter.name == outcome else _typed(column)
            )
    return columns


def text_sheet(sheet: Sheet) -> dict[str, Texts]:
    """Return the same columns as they were written."""
    return {
        match.parameter: column
        for match, column in zip(sheet.matches, sheet.columns, strict=True)
        if match.parameter is not None
    }


def _with_clock(dates: Texts, clocks: Texts) -> Texts:
    return of_cells(
        [
            f"{date} {_clock_time(clock)}".strip() if date else ""
            for date, clock in zip(dates, clocks, strict=True)
        ]
    )


def _clock_time(clock: str) -> str:
    """
    Return a time of day as it is written; a part of a day, as spreadsheets store it, as 12:00.

    Examples
    --------
    >>> _clock_time("0.5"), _clock_time("14:05")
    ('12:00', '14:05')
    """
    if not _DAY_PART.fullmatch(clock):
        return clock
    minutes = round(float(clock.replace(",", ".")) * 1440)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _typed(column: Column) -> np.ndarray:
    parameter = column.parameter
    if parameter.kind == "number":
        return number_column(column)
    if parameter.kind == "time":
        return time_column(column)
    if parameter.kind == "yes_no":
        return yes_no_column(column)
    if parameter.role == "outcome":
        return column.as_written()
    return name_column(column)
