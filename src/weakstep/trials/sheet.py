"""The sheet a trial is carried out with: CSV, workbook, a page to print; and the plan in words."""

from __future__ import annotations

import csv
import html
import io
from typing import TYPE_CHECKING

from weakstep.errors import LogError, OutputError
from weakstep.process.words import printed_unit
from weakstep.runlog.outcomes import outcome_column
from weakstep.runlog.writing import write_whole
from weakstep.trials.names import value_words
from weakstep.trials.plan_words import cautions_of, plan_text
from weakstep.trials.planned import plan_json

if TYPE_CHECKING:
    from pathlib import Path

    from weakstep.process.model import Process
    from weakstep.trials.planned import TrialPlan
    from weakstep.trials.sizing import SeenWith

SHEET, WORKBOOK, PAGE, PLAN, WORDS = (
    "sheet.csv",
    "sheet.xlsx",
    "sheet.html",
    "trial.json",
    "plan.md",
)
RUN = "run_id"
_NARROWEST = 11  # characters of a column


def sheet_rows(plan: TrialPlan, process: Process) -> list[list[str]]:
    """
    Return the sheet, header first: one row per chip.

    Every header is a column of the process, so that the filled sheet reads back as a log.

    Raises
    ------
    LogError
        The process has no column for the run, by which the filled sheet is matched to its plan.
    """
    known = {parameter.name for parameter in process.parameters}
    if RUN not in known:
        msg = (
            f"The description of '{process.title}' has no column {RUN}, by which a filled sheet is "
            f'matched to its plan. Add to it: [parameters.{RUN}], label = "run", step = "", role = '
            '"identity", kind = "text".'
        )
        raise LogError(msg)
    outcome = outcome_column(process)
    head: list[str] = [name for name in (RUN, "chip_id", "started_at", "operator") if name in known]
    head += list(plan.columns)
    measured = plan.outcome if plan.outcome in known else None
    head += [name for name in (measured, outcome, "notes") if name and name in known | {outcome}]
    rows = [head]
    for run in plan.runs:
        settings = dict(zip(plan.columns, run.settings, strict=True))
        for chip in range(1, plan.chips + 1):
            cells = {
                RUN: run.run_id,
                "chip_id": f"{run.run_id}-{chip}",
                "notes": f"trial: {plan.block_by} {run.block}",
            } | {name: value_words(process, name, value) for name, value in settings.items()}
            rows.append([cells.get(name, "") for name in head])
    return rows


def write_trial(
    plan: TrialPlan, process: Process, folder: Path, table: tuple[SeenWith, ...] = ()
) -> list[Path]:
    """
    Write the sheet (CSV, XLSX and a page to print), the plan in words and as data.

    Parameters
    ----------
    plan : TrialPlan
    process : Process
    folder : Path
        Made when it does not exist.
    table : tuple of SeenWith
        Of runs needed against effect, for the plan in words.

    Raises
    ------
    LogError
        The process has no column for the run.
    OutputError
        The folder holds something else, an older trial's filled sheet among it, or cannot be
        written.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        msg = (
            f"'{folder}' is not empty; a sheet that may be filled in is never overwritten. Name a "
            "new folder with -o."
        )
        raise OutputError(msg)
    rows = sheet_rows(plan, process)
    files = {
        SHEET: _csv(rows).encode(),
        WORKBOOK: _workbook(rows, process),
        PAGE: printable(plan, process).encode(),
        WORDS: plan_text(plan, process, table).encode(),
        PLAN: plan_json(plan).encode(),
    }
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, content in files.items():
            write_whole(folder / name, content)
    except OSError as reason:
        msg = f"{folder}: the trial cannot be written there ({reason.strerror})."
        raise OutputError(msg) from reason
    return [folder / name for name in files]


def _csv(rows: list[list[str]]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\r\n").writerows(rows)
    return out.getvalue()


def _workbook(rows: list[list[str]], process: Process) -> bytes:
    """Return the sheet as XLSX; outcome cells offer their words, the header stays in sight."""
    import datetime

    import openpyxl
    from openpyxl.styles import Font, PatternFill
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.datavalidation import DataValidation

    book = openpyxl.Workbook()
    sheet = book.active or book.create_sheet()
    sheet.title = "Trial"
    for row in rows:
        sheet.append([_number(cell) for cell in row])
    sheet.freeze_panes = "A2"
    for place, head in enumerate(rows[0], 1):
        letter = get_column_letter(place)
        widest = max(len(row[place - 1]) for row in rows)
        sheet.column_dimensions[letter].width = max(_NARROWEST, widest + 2)
        cell = sheet.cell(row=1, column=place)
        cell.font, cell.fill = Font(bold=True), PatternFill("solid", fgColor="E8E8E8")
        if head == outcome_column(process):
            words = book.create_sheet("Lists")
            words.sheet_state = "hidden"
            for mode in process.modes:
                words.append([mode.name])
            # Other words than those offered are read, too: the list helps, it does not refuse.
            offered = DataValidation(
                "list", formula1=f"Lists!$A$1:$A${len(process.modes)}", showErrorMessage=False
            )
            offered.add(f"{letter}2:{letter}{len(rows)}")
            sheet.add_data_validation(offered)
    # A fixed moment keeps the file free of clocks.
    book.properties.created = book.properties.modified = datetime.datetime(2000, 1, 1)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _number(cell: str) -> str | float:
    try:
        return float(cell)
    except ValueError:
        return cell


def printable(plan: TrialPlan, process: Process) -> str:
    """Return the sheet as a page to print: one row per run, with boxes to write in."""
    heads = ["run", plan.block_by, *(_with_unit(process, name) for name in plan.columns)]
    and_measured = f", {_with_unit(process, plan.outcome)}" if plan.rates is None else ""
    heads += [
        "date, time",
        "operator",
        *(f"{process.item} {i + 1}: outcome{and_measured}" for i in range(plan.chips)),
        "notes",
    ]
    head_row = "".join(f"<th scope=col>{html.escape(head)}</th>" for head in heads)
    lines = []
    for place, run in enumerate(plan.runs):
        known = [run.run_id, str(run.block)]
        known += [
            value_words(process, name, value)
            for name, value in zip(plan.columns, run.settings, strict=True)
        ]
        cells = "".join(f"<td>{html.escape(text)}</td>" for text in known)
        first = place > 0 and run.block != plan.runs[place - 1].block
        begins = " class=block" if first else ""
        lines.append(f"<tr{begins}>{cells}{'<td class=box></td>' * (3 + plan.chips)}</tr>")
    cautions = "".join(f"<li>{html.escape(text)}</li>" for text in cautions_of(plan, process))
    return _PAGE.format(
        title=html.escape(process.title),
        head=head_row,
        rows="\n".join(lines),
        cautions=cautions,
        item=html.escape(process.item),
        words=html.escape(", ".join(mode.name for mode in process.modes)),
    )


def _with_unit(process: Process, name: str) -> str:
    parameter = process.parameter(name)
    unit = printed_unit(parameter.unit)
    return f"{parameter.label} ({unit})" if unit else parameter.label


_PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Trial: {title}</title>
<style>
body {{ font: 11pt/1.3 system-ui, sans-serif; margin: 1.5em; color: #111; background: #fff; }}
table {{ border-collapse: collapse; width: 100%; }}
th, td {{ border: 1px solid #555; padding: .25em .5em; text-align: left; }}
.box {{ min-width: 4em; height: 2em; }}
.block td {{ border-top: 3px solid #111; }}
.wide {{ overflow-x: auto; }}
@media print {{ .wide {{ overflow: visible; }} }}
@page {{ margin: 12mm; }}
tr {{ break-inside: avoid; }}
thead {{ display: table-header-group; }}
</style></head><body>
<main>
<h1>Trial: {title}</h1>
<h2>Before the first run</h2>
<ul>{cautions}</ul>
<h2>The runs</h2>
<p>Carry them out in this order, top to bottom; a thick line begins a new block. Log every {item},
above all those that failed. A run that cannot be set as planned is done as it goes and written down
as it was. Words for an outcome: {words}.</p>
<div class="wide" tabindex="0" role="group" aria-label="The runs">
<table><thead><tr>{head}</tr></thead><tbody>
{rows}
</tbody></table></div>
</main>
</body></html>
"""
