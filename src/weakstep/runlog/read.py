"""Log files -> a checked RunLog: the order in which reading and checking happen."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from weakstep.errors import LogError
from weakstep.process.load import load_process
from weakstep.process.model import Process
from weakstep.runlog.check import check_limits, check_ranges, check_rules
from weakstep.runlog.columns import HeaderBook
from weakstep.runlog.convert import text_sheet, typed_sheet
from weakstep.runlog.derived import add_derived
from weakstep.runlog.duplicates import drop_duplicates, point_out_copies
from weakstep.runlog.files import TextFile, find_files, read_text
from weakstep.runlog.findings import Findings
from weakstep.runlog.model import InputFile, RunLog
from weakstep.runlog.outcomes import add_outcomes
from weakstep.runlog.runs import add_run_ids, in_time_order, run_table
from weakstep.runlog.sheets import AsideRow, Sheet, open_sheet
from weakstep.runlog.spellings import ask_about_spellings
from weakstep.runlog.tables import read_table
from weakstep.runlog.work import Work

if TYPE_CHECKING:
    import pandas as pd


def read_log(paths: str | Path | Sequence[str | Path], process: Process | None = None) -> RunLog:
    """
    Read, check and gather the rows of one or several log files.

    Parameters
    ----------
    paths : str, Path or sequence of them
        A CSV or TSV file, a folder of them, a pattern such as ``logs/*.csv``, or several.
        Each file may have its own column order, names, units, delimiter and date format.
    process : Process, optional
        The described process; the built-in one when left out.

    Returns
    -------
    RunLog
        Chips in time order, runs, every problem found, every cell read with care, and the rows
        set aside: ``rows_read == len(chips) + len(set_aside)``.

    Raises
    ------
    LogError
        No file is there, or none of them can be used; the message says why and what to do.
    """
    described = load_process() if process is None else process
    findings = Findings()
    book = HeaderBook(described)
    sources: list[TextFile] = []
    sheets: list[Sheet] = []
    refused: list[LogError] = []
    for file in find_files(paths):
        try:
            source = read_text(file)
            sheet = open_sheet(read_table(source), book, findings)
        except LogError as error:
            refused.append(error)
            _tell_refused(file.name, error, findings)
            continue
        sources.append(source)
        sheets.append(sheet)
    if not sheets:
        raise refused[0]
    work = _gathered(sheets, described, findings)
    _check(work)
    return _finished(work, sources, sheets)


def _tell_refused(file: str, error: LogError, findings: Findings) -> None:
    findings.problem(
        "unusable_file",
        "set_aside",
        f"The file was left out: {error}",
        "The other files were read.",
        file=file,
    )


def _gathered(sheets: Sequence[Sheet], process: Process, findings: Findings) -> Work:
    """Put the rows of all sheets under one another, columns by their parameter."""
    import pandas as pd

    typed = pd.concat(
        [typed_sheet(sheet, process, findings) for sheet in sheets], ignore_index=True
    )
    texts = pd.concat([text_sheet(sheet) for sheet in sheets], ignore_index=True)
    for parameter in process.parameters:
        if parameter.name in typed and parameter.kind in ("category", "text"):
            typed[parameter.name] = typed[parameter.name].fillna("").astype(object)
    headers = {
        (match.file, match.parameter): match.header
        for sheet in sheets
        for match in sheet.matches
        if match.parameter is not None
    }
    return Work(process, typed, texts, headers, findings)


def _check(work: Work) -> None:
    drop_duplicates(work)
    check_ranges(work)
    check_rules(work)
    add_derived(work)
    check_ranges(work)
    check_limits(work)
    ask_about_spellings(work)
    point_out_copies(work)
    add_outcomes(work)
    add_run_ids(work)
    in_time_order(work)


def _finished(work: Work, sources: Sequence[TextFile], sheets: Sequence[Sheet]) -> RunLog:
    chips = work.typed.reset_index(drop=True)
    aside = [row for sheet in sheets for row in sheet.aside] + work.aside
    runs = run_table(work.process, chips)
    return RunLog(
        process=work.process,
        chips=chips,
        runs=runs,
        problems=work.findings.problems(),
        care=work.findings.readings(),
        set_aside=_aside_frame(aside),
        inputs=tuple(
            InputFile(source.name, source.sha256, sheet.rows_read)
            for source, sheet in zip(sources, sheets, strict=True)
        ),
        columns=tuple(match for sheet in sheets for match in sheet.matches),
        rows_read=sum(sheet.rows_read for sheet in sheets),
    )


def _aside_frame(rows: Sequence[AsideRow]) -> pd.DataFrame:
    import pandas as pd

    ordered = sorted(rows, key=lambda row: (row.file, row.line))
    records = [
        {"file": row.file, "line": row.line, "reason": row.reason}
        | {
            ("cell of " + name if name in ("file", "line", "reason") else name): cell
            for name, cell in row.cells.items()
        }
        for row in ordered
    ]
    return pd.DataFrame(records, columns=None if records else ["file", "line", "reason"])
