"""Log files -> a checked RunLog: the order in which reading and checking happen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from weakstep.process.load import load_process
from weakstep.process.model import Process
from weakstep.runlog.check import check_dates, check_limits, check_ranges, check_rules
from weakstep.runlog.columns import HeaderBook, HeaderMatch
from weakstep.runlog.convert import text_sheet, typed_sheet
from weakstep.runlog.derived import add_derived
from weakstep.runlog.duplicates import drop_duplicates, point_out_copies
from weakstep.runlog.findings import Findings
from weakstep.runlog.model import Bound, InputFile, RunLog
from weakstep.runlog.opening import Opened, open_files
from weakstep.runlog.outcomes import add_outcomes
from weakstep.runlog.runs import add_run_ids, in_time_order, run_table
from weakstep.runlog.sense import look_for_patterns
from weakstep.runlog.sheets import AsideRow, Sheet
from weakstep.runlog.spellings import ask_about_spellings
from weakstep.runlog.texts import Texts, joined
from weakstep.runlog.work import Work

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd


def read_log(
    paths: str | Path | Sequence[str | Path],
    process: Process | None = None,
    *,
    mapping: Mapping[str, HeaderMatch] | None = None,
) -> RunLog:
    """
    Read, check and gather the rows of one or several log files.

    Parameters
    ----------
    paths : str, Path or sequence of them
        A CSV, TSV, XLSX or ODS file, a folder of them, a pattern such as ``logs/*.csv``, or
        several.
        Each file may have its own column order, names, units, delimiter and date format.
    process : Process, optional
        The described process; the built-in one when left out.

    mapping : mapping of header to HeaderMatch, optional
        What `load_mapping` read: headers whose column is fixed.

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
    book = HeaderBook(described, mapping)
    opened = open_files(paths, book, findings)
    sheets = [one.sheet for one in opened]
    _tell_empty_columns(sheets, findings)
    work = _gathered(sheets, described, findings)
    _check(work)
    return _finished(work, opened)


def _gathered(sheets: Sequence[Sheet], process: Process, findings: Findings) -> Work:
    """Put the rows of all sheets under one another, columns by their parameter."""
    import numpy as np
    import pandas as pd

    parts = [typed_sheet(sheet, process, findings) for sheet in sheets]
    written = [text_sheet(sheet) for sheet in sheets]
    sizes = [len(sheet.lines) for sheet in sheets]
    names = np.empty(len(sheets), dtype=object)
    names[:] = [sheet.file for sheet in sheets]
    columns: dict[str, object] = {
        "file": pd.Series(np.repeat(names, sizes), dtype=object),
        "line": np.concatenate([sheet.lines for sheet in sheets]),
    }
    texts: dict[str, Texts] = {}
    for parameter in process.parameters:
        name = parameter.name
        if not any(name in part for part in parts):
            continue
        texts[name] = joined(
            part.get(name, size) for part, size in zip(written, sizes, strict=True)
        )
        columns[name] = _stacked([part.get(name) for part in parts], sizes)
    typed = pd.DataFrame(columns)
    headers: dict[tuple[str, str], str] = {}
    for match in (match for sheet in sheets for match in sheet.matches):
        if match.parameter is not None:
            headers.setdefault((match.file, match.parameter), match.header)
    return Work(process, typed, texts, headers, findings)


def _stacked(parts: Sequence[np.ndarray | None], sizes: Sequence[int]) -> pd.Series:
    """Return one column under another, filled with nothing where a file does not carry it."""
    import numpy as np
    import pandas as pd

    known = [part for part in parts if part is not None]
    dtype = known[0].dtype
    nothing = {"f": np.nan, "M": np.datetime64("NaT")}.get(dtype.kind, "")
    filled = [
        np.full(size, nothing, dtype=dtype) if part is None else part
        for part, size in zip(parts, sizes, strict=True)
    ]
    return pd.Series(np.concatenate(filled), dtype=dtype, copy=False)


def _check(work: Work) -> None:
    drop_duplicates(work)
    check_dates(work)
    check_ranges(work)
    check_rules(work)
    add_derived(work)
    check_ranges(work, only_computed=True)
    check_limits(work)
    ask_about_spellings(work)
    point_out_copies(work)
    add_outcomes(work)
    look_for_patterns(work)
    add_run_ids(work)
    in_time_order(work)


def _tell_empty_columns(sheets: Sequence[Sheet], findings: Findings) -> None:
    for sheet in sheets:
        for match, column in zip(sheet.matches, sheet.columns, strict=True):
            if match.parameter is not None and len(column) and not column.filled().any():
                findings.problem(
                    "empty_column",
                    "note",
                    "No cell of the column is filled in.",
                    "Log it, or leave the column out.",
                    file=sheet.file,
                    column=match.header,
                )


def _finished(work: Work, opened: Sequence[Opened]) -> RunLog:
    sheets = [one.sheet for one in opened]
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
        inputs=_inputs(opened),
        columns=tuple(match for sheet in sheets for match in sheet.matches),
        rows_read=sum(sheet.rows_read for sheet in sheets),
        bounds=_bounds_of(work.findings, chips),
    )


def _bounds_of(findings: Findings, chips: pd.DataFrame) -> tuple[Bound, ...]:
    """Return the bounds that stand in rows which are used."""
    bounds = findings.bounds()
    if not bounds:
        return ()
    used = set(zip(chips["file"], chips["line"], strict=True))
    return tuple(bound for bound in bounds if (bound.file, bound.line) in used)


def _inputs(opened: Sequence[Opened]) -> tuple[InputFile, ...]:
    """Return the files that were read; a file with several headers is one."""
    rows: dict[tuple[str, str, str], int] = {}
    for one in opened:
        key = (one.sheet.file, one.sha256, one.folder)
        rows[key] = rows.get(key, 0) + one.sheet.rows_read
    return tuple(
        InputFile(file, sha256, count, folder) for (file, sha256, folder), count in rows.items()
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
