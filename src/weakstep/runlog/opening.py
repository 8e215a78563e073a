"""Paths -> sheets: every file opened, or the reason told why it was left out."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

from weakstep.errors import LogError
from weakstep.runlog.codepages import NAMES, WESTERN, looks_odd
from weakstep.runlog.columns import HeaderBook
from weakstep.runlog.files import decoded, find_files, names_of, read_raw
from weakstep.runlog.findings import Findings
from weakstep.runlog.headings import best_heading, later_headings
from weakstep.runlog.sheets import Sheet, open_sheet, rows_aside
from weakstep.runlog.splitting import read_table
from weakstep.runlog.tables import Table
from weakstep.runlog.workbooks import is_workbook, read_workbook


@dataclass(frozen=True, eq=False)
class Opened:
    """One sheet of one file, with the hash of the file and the name of its folder."""

    sheet: Sheet
    sha256: str
    folder: str


def open_files(
    paths: str | Path | Sequence[str | Path], book: HeaderBook, findings: Findings
) -> list[Opened]:
    """
    Open every log file and match its header; what cannot be used is told.

    Raises
    ------
    LogError
        No file is there, or none of them can be used.
    """
    opened: list[Opened] = []
    refused: list[LogError] = []
    files = find_files(paths)
    for file, name in zip(files, names_of(files), strict=True):
        try:
            fresh = _open(file, name, book, findings)
        except LogError as error:
            refused.append(error)
            _tell_refused(name, error, findings)
            continue
        opened += [_without_copies(one, opened, findings) for one in fresh]
    if not opened:
        raise refused[0]
    return opened


def _open(path: Path, name: str, book: HeaderBook, findings: Findings) -> list[Opened]:
    raw = read_raw(path, name)
    sha256 = hashlib.sha256(raw).hexdigest()
    if is_workbook(raw):
        workbook = read_workbook(raw, name)
        sheets = _sheets_of(workbook.tables, book, findings)
        _tell_hidden(workbook.hidden, name, findings)
        _tell_errors(workbook.errors, name, findings)
        read = {sheet.file for sheet in sheets}
        for concealed in [file for file in workbook.concealed if file in read]:
            _tell_concealed(concealed, findings)
        return [Opened(sheet, sha256, path.resolve().parent.name) for sheet in sheets]
    text = decoded(raw, name)
    sheets = _parts_of(read_table(text), book, findings)
    if text.encoding in NAMES:
        findings.problem(
            "encoding",
            "note" if text.encoding == WESTERN and not looks_odd(text.text) else "question",
            f"The file is not UTF-8 and was read as {NAMES[text.encoding]}.",
            "If letters such as µ, ° or é look wrong, save it as CSV in UTF-8.",
            file=name,
        )
    return [Opened(sheet, sha256, path.resolve().parent.name) for sheet in sheets]


def _parts_of(table: Table, book: HeaderBook, findings: Findings) -> list[Sheet]:
    """Open a table; where another header stands below the first, the rows below it are its own."""
    cuts = later_headings(table, best_heading(table, book), book)
    edges = [0, *(cut for cut in cuts if cut + 1 < len(table)), len(table)]
    for cut in edges[1:-1]:
        findings.problem(
            "another_header",
            "note",
            "Another header stands here; the rows below were read by it.",
            "Nothing to do, unless it is a row.",
            file=table.file,
            line=int(table.lines[cut]),
        )
    return [open_sheet(table.part(a, b), book, findings) for a, b in pairwise(edges)]


def _sheets_of(tables: Sequence[Table], book: HeaderBook, findings: Findings) -> list[Sheet]:
    """Return the sheets of a workbook that hold a log; the others are told."""
    sheets: list[Sheet] = []
    refused: list[LogError] = []
    named = [best_heading(table, book).score for table in tables]
    enough = min(2, max(named))  # one word alone is no header where another sheet has one
    for table, columns in zip(tables, named, strict=True):
        if columns < enough:
            _tell_left_out(table.file, "it does not look like a log.", findings)
            continue
        try:
            sheets += _parts_of(table, book, findings)
        except LogError as error:
            refused.append(error)
            _tell_left_out(table.file, str(error), findings)
    if not sheets:
        raise refused[0]
    return sheets


def _tell_left_out(file: str, why: str, findings: Findings) -> None:
    findings.problem(
        "sheet_left_out",
        "note",
        f"The sheet was left out: {why}",
        "Nothing to do, unless it is a log.",
        file=file,
    )


def _tell_hidden(rows: int, name: str, findings: Findings) -> None:
    if rows:
        findings.problem(
            "hidden_rows",
            "note",
            f"{rows} {'row' if rows == 1 else 'rows'} of the workbook "
            f"{'is' if rows == 1 else 'are'} hidden; hidden rows were read like the others.",
            "Delete them if they are not part of the log.",
            file=name,
        )


def _tell_concealed(file: str, findings: Findings) -> None:
    findings.problem(
        "hidden_sheet",
        "question",
        "The sheet is hidden and was read like the others.",
        "Is it part of the log? If not, delete it or give the others in a file of their own.",
        file=file,
    )


def _tell_errors(cells: int, name: str, findings: Findings) -> None:
    if cells:
        findings.problem(
            "error_cells",
            "cell_missing",
            f"{cells} {'cell' if cells == 1 else 'cells'} of the workbook "
            f"{'shows' if cells == 1 else 'show'} an error such as #DIV/0! instead of a value; "
            "such cells count as missing.",
            "Mend the formulas, or write the values.",
            file=name,
        )


def _tell_refused(file: str, error: LogError, findings: Findings) -> None:
    findings.problem(
        "unusable_file",
        "set_aside",
        f"The file was left out: {error}",
        "The other files were read.",
        file=file,
    )


def _without_copies(fresh: Opened, earlier: Sequence[Opened], findings: Findings) -> Opened:
    """Set all rows of a sheet aside when its file equals an earlier one byte for byte."""
    import numpy as np

    sheet = fresh.sheet
    part = _part(sheet.file)
    for other in earlier:
        if other.sha256 != fresh.sha256 or _part(other.sheet.file) != part:
            continue
        findings.problem(
            "same_file_twice",
            "set_aside",
            f"The file is a copy of {other.sheet.file}, so its rows were set aside.",
            "Give each log once.",
            file=sheet.file,
        )
        copies = rows_aside(sheet, f"the file is a copy of {other.sheet.file}")
        none = np.zeros(0, dtype=int)
        emptied = replace(
            sheet,
            lines=sheet.lines[none],
            columns=tuple(column.take(none) for column in sheet.columns),
            aside=(*sheet.aside, *copies),
        )
        return Opened(emptied, fresh.sha256, fresh.folder)
    return fresh


def _part(file: str) -> str:
    """Return the name of a workbook's sheet, which stands in brackets behind that of the file."""
    return file[file.index(" [") :] if " [" in file and file.endswith("]") else ""
