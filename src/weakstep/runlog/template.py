"""An empty log for a described process: CSV, XLSX, or a page to print for the bench."""

from __future__ import annotations

import csv
import html
import io
from dataclasses import dataclass
from pathlib import Path

from weakstep.errors import OutputError
from weakstep.process.model import Parameter, Process
from weakstep.process.words import printed_unit
from weakstep.runlog.columns import HeaderBook
from weakstep.runlog.outcomes import outcome_column
from weakstep.runlog.writing import write_whole

SUFFIXES = (".csv", ".xlsx", ".html")
# Counts stand for rows of chips; dates tell semesters apart by themselves.
_LEFT_OUT = ("chips_made", "chips_failed", "semester")
_RUNS_A_PAGE = 4
_FIRST, _LAST = "Who and what", "What came of it"


@dataclass(frozen=True)
class Field:
    """
    One column of an empty log.

    Attributes
    ----------
    header : str
        Reads back as the parameter; names the unit where the name does not.
    choices : tuple of str
        The words a cell may hold; empty when it is free.
    """

    parameter: Parameter
    header: str
    choices: tuple[str, ...]


def fields(process: Process) -> list[Field]:
    """Return the columns of an empty log; computed ones, counts and semesters are left out."""
    book = HeaderBook(process)
    outcome = outcome_column(process)
    modes = tuple(mode.name for mode in process.modes)
    made = []
    for parameter in process.parameters:
        if parameter.formula is not None or parameter.name in _LEFT_OUT:
            continue
        choices: tuple[str, ...] = tuple(parameter.spellings)
        if parameter.name == outcome:
            choices = modes
        elif parameter.kind == "yes_no":
            choices = ("yes", "no")
        made.append(Field(parameter, _header(parameter, book), choices))
    return made


def _header(parameter: Parameter, book: HeaderBook) -> str:
    """Return the name, with the unit behind it unless the name ends in it."""
    name, unit = parameter.name, parameter.unit
    if not unit or name.lower().endswith("_" + unit.lower().replace("%", "pct")):
        return name
    with_unit = f"{name} ({printed_unit(unit)})"
    return with_unit if book.match(with_unit).parameter == parameter else name


def write_sheet(process: Process, path: str | Path) -> Path:
    """
    Write an empty log with the columns of *process*, as the suffix of *path* says.

    ``.csv`` is a header line. ``.xlsx`` has lists to choose from, ranges that refuse nonsense,
    a header that stays in sight and a page of instructions. ``.html`` is a page to print, one
    run per column, with large boxes. Every header reads back as its column.

    Raises
    ------
    OutputError
        The suffix is none of these, or the file cannot be written.
    """
    target = Path(path)
    suffix = target.suffix.lower()
    if suffix not in SUFFIXES:
        msg = f"{target}: an empty log is written as {', '.join(SUFFIXES)}; choose one of them."
        raise OutputError(msg)
    if suffix == ".xlsx":
        from weakstep.runlog.template_workbook import workbook_bytes

        content = workbook_bytes(process, fields(process))
    elif suffix == ".html":
        content = bench_page(process).encode()
    else:
        content = _csv(fields(process)).encode()
    try:
        write_whole(target, content)
    except OSError as error:
        msg = f"{target}: the empty log cannot be written ({error.strerror})."
        raise OutputError(msg) from error
    return target


def _csv(columns: list[Field]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\r\n").writerow([field.header for field in columns])
    return out.getvalue()


def bench_page(process: Process) -> str:
    """Return a page to print: a row per column of the log, a box per run, no script, no network."""
    out = [_PAGE_HEAD.format(title=html.escape(process.title))]
    for title, group in _in_working_order(process):
        out.append(f'<tbody><tr><th colspan="{_RUNS_A_PAGE + 1}" scope="colgroup" class="step">')
        out.append(f"{html.escape(title)}</th></tr>")
        out += [_bench_row(field) for field in group]
        out.append("</tbody>")
    modes = ", ".join(html.escape(mode.label) for mode in process.modes)
    out.append(f"</table><p>Outcomes: {modes}.</p>{_PAGE_FOOT}")
    return "".join(out)


def _in_working_order(process: Process) -> list[tuple[str, list[Field]]]:
    """Return the fields step by step: who and what first, what came of it last."""
    groups: dict[str, list[Field]] = {_FIRST: []}
    groups |= {step.label: [] for step in process.steps} | {_LAST: []}
    labels = {step.name: step.label for step in process.steps}
    for field in fields(process):
        parameter = field.parameter
        stepless = _LAST if parameter.role == "outcome" else _FIRST
        groups[labels.get(parameter.step, stepless)].append(field)
    return [(title, group) for title, group in groups.items() if group]


def _bench_row(field: Field) -> str:
    parameter = field.parameter
    unit = f" ({printed_unit(parameter.unit)})" if parameter.unit else ""
    choices = " / ".join(field.choices) if len(field.choices) <= 4 else ""
    hint = choices or ("date and time" if parameter.kind == "time" else "")
    return (
        f'<tr><th scope="row">{html.escape(parameter.label + unit)}'
        f"<small>{html.escape(field.header)}{html.escape(': ' + hint if hint else '')}</small>"
        f"</th>{'<td></td>' * _RUNS_A_PAGE}</tr>"
    )


_PAGE_HEAD = """<!doctype html>
<html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Bench page: {title}</title>
<style>
body {{ font: 11pt/1.3 system-ui, sans-serif; margin: 1.5em; color: #111; background: #fff; }}
h1 {{ font-size: 1.2em; margin: 0 0 .3em; }}
table {{ border-collapse: collapse; width: 100%; }}
th, td {{ border: 1px solid #555; padding: .25em .5em; text-align: left; }}
td {{ height: 2.6em; width: 16%; }}
th small {{ display: block; font-weight: normal; color: #444; overflow-wrap: anywhere; }}
.step {{ background: #eee; border-top: 2px solid #111; print-color-adjust: exact; }}
tr, tbody {{ break-inside: avoid; }}
@page {{ size: A4; margin: 12mm; }}
@media print {{
  body {{ margin: 0; font-size: 10pt; }}
  thead {{ display: table-header-group; }}
  p {{ break-inside: avoid; }}
}}
</style></head><body>
<h1>{title}: bench page</h1>
<p>One run per column. Write what the instrument shows, at once; leave a box empty when it was not
measured. Log every chip, above all those that failed.</p>
<table><thead><tr><th scope="col">Run</th><th scope="col">1</th><th scope="col">2</th>
<th scope="col">3</th><th scope="col">4</th></tr></thead>
"""
_PAGE_FOOT = """
<p>Your lab's safety rules, the equipment's manual and the people responsible come first.</p>
</body></html>
"""
