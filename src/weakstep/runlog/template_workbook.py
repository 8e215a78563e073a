"""An empty log as a workbook; the only home of the library that writes it."""

from __future__ import annotations

import datetime
import io
from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

from weakstep.process.model import Parameter, Process
from weakstep.process.words import range_words
from weakstep.runlog.safe import safe_cell
from weakstep.runlog.template import Field

if TYPE_CHECKING:
    from openpyxl.worksheet.datavalidation import DataValidation
    from openpyxl.worksheet.worksheet import Worksheet

_ROWS = 1000
_INSTRUCTIONS = (
    "One row per chip. Chips that went through the plasma together share one run id.",
    "Log every chip, above all those that failed: a failure without a row is in no figure.",
    "Write what the instrument shows, at once. Leave a cell empty when it was not measured; "
    "never write 0 for 'not measured'.",
    "Write numbers only: the unit stands in the header. A cell that refuses a value shows its "
    "plausible range; if the value is real, write it in the notes and tell the keeper of the log.",
    "Write dates as 2026-03-31 14:05.",
    "When the log is full, read it with:  weakstep check FILE",
)


def workbook_bytes(process: Process, columns: Sequence[Field]) -> bytes:
    """
    Return an XLSX file with the sheets Log, Instructions and Lists.

    Cells of the log offer the words they may hold, and refuse numbers outside their plausible
    range; header and first column stay in sight.
    """
    import openpyxl

    book = openpyxl.Workbook()
    log = book.active
    if log is None:
        log = book.create_sheet()
    log.title = "Log"
    _write_instructions(book.create_sheet("Instructions"), process, columns)
    lists = book.create_sheet("Lists")
    _write_log(log, lists, columns)
    lists.sheet_state = "hidden"
    # A fixed moment keeps the properties of the file free of clocks.
    book.properties.created = book.properties.modified = datetime.datetime(2000, 1, 1)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _write_log(log: Worksheet, lists: Worksheet, columns: Sequence[Field]) -> None:
    from openpyxl.comments import Comment
    from openpyxl.styles import Alignment, Font, PatternFill
    from openpyxl.utils import get_column_letter

    log.freeze_panes = "B2"
    listed = 0
    for index, field in enumerate(columns, start=1):
        letter = get_column_letter(index)
        head = log.cell(row=1, column=index, value=safe_cell(field.header))
        head.font = Font(bold=True)
        head.fill = PatternFill("solid", fgColor="E8E8E8")
        head.alignment = Alignment(wrap_text=True, vertical="top")
        said = _plausible(field.parameter)
        head.comment = Comment(field.parameter.label + (f": {said}" if said else ""), "weakstep")
        log.column_dimensions[letter].width = max(11, len(field.header) + 2)
        area = f"{letter}2:{letter}{_ROWS + 1}"
        rule: DataValidation | None
        if field.choices:
            listed += 1
            source = _write_list(lists, listed, field.choices)
            rule = _choice_rule(source, field)
        else:
            rule = _range_rule(field)
        if field.parameter.kind == "time":
            for row in range(2, _ROWS + 2):
                log.cell(row=row, column=index).number_format = "yyyy-mm-dd hh:mm"
        if rule is not None:
            log.add_data_validation(rule)
            rule.add(area)


def _write_list(lists: Worksheet, column: int, choices: Sequence[str]) -> str:
    """Write the words of a list on their own sheet, and return where they stand."""
    from openpyxl.utils import get_column_letter

    for row, word in enumerate(choices, start=1):
        lists.cell(row=row, column=column, value=safe_cell(word))
    letter = get_column_letter(column)
    return f"Lists!${letter}$1:${letter}${len(choices)}"


def _choice_rule(source: str, field: Field) -> DataValidation:
    from openpyxl.worksheet.datavalidation import DataValidation

    return DataValidation(
        type="list",
        formula1=source,
        allow_blank=True,
        showErrorMessage=True,
        errorTitle="Not in the list",
        error=f"Choose a word of the list for {field.parameter.label}."[:250],
    )


def _range_rule(field: Field) -> DataValidation | None:
    from openpyxl.worksheet.datavalidation import DataValidation

    parameter = field.parameter
    kind: Literal["date", "decimal"]
    if parameter.kind == "time":
        kind, lower, upper = "date", "36526", "73050"  # 2000 to 2099, as days of a spreadsheet
        said = "a date such as 2026-03-31 14:05"
    elif parameter.kind == "number" and parameter.lower is not None:
        kind = "decimal"
        lower = f"{parameter.lower:.15g}"
        upper = f"{1e15 if parameter.upper is None else parameter.upper:.15g}"
        said = _plausible(parameter)
    else:
        return None
    return DataValidation(
        type=kind,
        operator="between",
        formula1=lower,
        formula2=upper,
        allow_blank=True,
        showErrorMessage=True,
        errorTitle="Not plausible",
        error=f"{parameter.label}: expected {said}."[:250],
    )


def _write_instructions(page: Worksheet, process: Process, columns: Sequence[Field]) -> None:
    from openpyxl.styles import Alignment, Font

    page.append([safe_cell(process.title)])
    page["A1"].font = Font(bold=True, size=14)
    for sentence in _INSTRUCTIONS:
        page.append([sentence])
        page.cell(row=page.max_row, column=1).alignment = Alignment(wrap_text=True)
    page.append([])
    page.append(["what the column is called in words", "plausible range", "what it means"])
    for field in columns:
        label = safe_cell(field.parameter.label)
        page.append([label, _plausible(field.parameter), safe_cell(field.parameter.check_first)])
    page.column_dimensions["A"].width = 70
    page.column_dimensions["B"].width = 26
    page.column_dimensions["C"].width = 80


def _plausible(parameter: Parameter) -> str:
    return range_words(parameter.lower, parameter.upper, parameter.unit)
