"""A sheet's columns of text -> typed columns; plain cells at once, the others one by one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from weakstep.process.model import Process
from weakstep.runlog.column import Column
from weakstep.runlog.findings import Findings
from weakstep.runlog.numeric import number_column
from weakstep.runlog.outcomes import outcome_column
from weakstep.runlog.sheets import Sheet
from weakstep.runlog.times import time_column
from weakstep.runlog.wording import name_column, yes_no_column

if TYPE_CHECKING:
    import pandas as pd


def typed_sheet(sheet: Sheet, process: Process, findings: Findings) -> pd.DataFrame:
    """Return one typed column per matched header, with `file` and `line`."""
    import pandas as pd

    outcome = outcome_column(process)
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
            column = Column(sheet, match, parameter, texts, lines, findings)
            columns[parameter.name] = (
                column.as_written() if parameter.name == outcome else _typed(column)
            )
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
    return pd.DataFrame(columns).astype(object)


def _typed(column: Column) -> object:
    parameter = column.parameter
    if parameter.kind == "number":
        return number_column(column)
    if parameter.kind == "time":
        return time_column(column.texts, column.lines, column.file, column.header, column.findings)
    if parameter.kind == "yes_no":
        return yes_no_column(column)
    if parameter.role == "outcome":
        return column.as_written()
    return name_column(column)
