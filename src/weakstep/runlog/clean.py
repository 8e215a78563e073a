"""A corrected copy of a log, from which a second check comes out clean."""

from __future__ import annotations

import csv
import io
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from weakstep.errors import OutputError
from weakstep.process.model import Parameter
from weakstep.runlog.header import ACCEPTED
from weakstep.runlog.model import RunLog
from weakstep.runlog.outcomes import FAILED, MADE, outcome_column
from weakstep.runlog.read import read_log
from weakstep.runlog.safe import safe_cell
from weakstep.runlog.writing import write_whole

if TYPE_CHECKING:
    import pandas as pd

_PASSES = 4


def write_clean(log: RunLog, path: str | Path) -> Path:
    """
    Write the rows of *log* that are used, every cell in the form it was read, as CSV.

    Columns carry their described names and units; cells that count as missing are empty; rows
    set aside and columns left alone are not in it. A question that the copy cannot answer (a
    value beyond a rated limit, say) is written beside its row in the column
    `accepted_questions`: a second check lists it as a note. Take the word out to be asked again.

    Raises
    ------
    OutputError
        The file cannot be written, or would replace a file of the log itself.
    """
    target = Path(path)
    if target.suffix.lower() != ".csv":
        msg = f"{target}: the corrected copy is CSV; give it a name that ends in .csv."
        raise OutputError(msg)
    if not len(log.chips):
        msg = "No row of the log can be used, so there is nothing to write a corrected copy of."
        raise OutputError(msg)
    header, rows = _cells(log)
    content = _settled(log, header, rows)
    try:
        write_whole(target, content.encode())
    except OSError as error:
        msg = f"{target}: the corrected copy cannot be written ({error.strerror})."
        raise OutputError(msg) from error
    return target


def _settled(log: RunLog, header: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Check the copy until every question that is left stands beside its row."""
    accepted: list[set[str]] = [set() for _ in rows]
    content = _text(header, rows, accepted)
    for _ in range(_PASSES):
        with tempfile.TemporaryDirectory() as folder:
            copy = Path(folder) / "copy.csv"
            copy.write_bytes(content.encode())
            problems = read_log(copy, log.process).problems
        asked = [problem for problem in problems if problem.severity == "question"]
        if not asked:
            break
        for problem in asked:
            accepted[0 if problem.line is None else problem.line - 2].add(problem.code)
        content = _text(header, rows, accepted)
    return content


def _text(
    header: Sequence[str], rows: Sequence[Sequence[str]], accepted: Sequence[set[str]]
) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    with_questions = any(accepted)
    writer.writerow([*header, ACCEPTED] if with_questions else header)
    for cells, codes in zip(rows, accepted, strict=True):
        writer.writerow([*cells, " ".join(sorted(codes))] if with_questions else cells)
    return out.getvalue()


def _cells(log: RunLog) -> tuple[list[str], list[tuple[str, ...]]]:
    """Return header and cells; each row of the log is one line of the copy."""
    logged = {match.parameter for match in log.columns if match.parameter}
    outcome = outcome_column(log.process)
    columns: dict[str, list[str]] = {}
    for parameter in log.process.parameters:
        name = parameter.name
        if name in (MADE, FAILED) or name == outcome or name not in logged:
            continue
        columns[name] = _with_bounds(log, name, _column(parameter, log.chips[name]))
    if "run_id" in columns:
        columns["run_id"] = [
            safe_cell(run) if named else ""
            for named, run in zip(columns["run_id"], log.chips["run"], strict=True)
        ]
    columns |= _outcomes(log, outcome if outcome in logged else None)
    return list(columns), list(zip(*columns.values(), strict=True))


def _with_bounds(log: RunLog, name: str, cells: list[str]) -> list[str]:
    """Return the cells of a column with "<60" where the log says no more."""
    signs: dict[Literal["below", "above"], str] = {"below": "<", "above": ">"}
    for side, sign in signs.items():
        if any((bound.parameter, bound.side) == (name, side) for bound in log.bounds):
            for row, value in enumerate(log.bounds_of(name, side).tolist()):
                if value == value:
                    cells[row] = f"{sign}{value:.12g}"
    return cells


def _outcomes(log: RunLog, outcome: str | None) -> dict[str, list[str]]:
    """Return outcome and counts; a row that stands for one chip states no counts."""
    modes = log.chips["mode"].tolist()
    pairs = list(zip(log.chips["made"].tolist(), log.chips["failed"].tolist(), strict=True))
    columns: dict[str, list[str]] = {}
    if outcome is not None:
        columns[outcome] = modes
    single = [bool(mode) and made == 1 and outcome is not None
              for mode, (made, _) in zip(modes, pairs, strict=True)]  # fmt: skip
    if not all(single) and log.process.has(MADE) and log.process.has(FAILED):
        untested = {mode.name for mode in log.process.modes if mode.verdict == "untested"}
        columns[MADE] = [
            "" if one else str(made) for one, (made, _) in zip(single, pairs, strict=True)
        ]
        columns[FAILED] = [
            "" if one or mode in untested else str(failed)
            for one, mode, (_, failed) in zip(single, modes, pairs, strict=True)
        ]
    return columns


def _column(parameter: Parameter, cells: pd.Series) -> list[str]:
    if parameter.kind == "number":
        return ["" if value != value else f"{value:.12g}" for value in cells.tolist()]
    if parameter.kind == "yes_no":
        return ["" if value != value else ("yes" if value else "no") for value in cells.tolist()]
    if parameter.kind == "time":
        return ["" if moment != moment else _moment(str(moment)) for moment in cells]
    return [safe_cell(str(text)) for text in cells.fillna("")]


def _moment(text: str) -> str:
    return text[:19].removesuffix(":00").removesuffix(" 00:00")
