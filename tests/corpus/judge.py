"""
Judge the reader against the honest readings: right, told about, or silently wrong.

Run it to see the figures: python tests/corpus/judge.py
"""

from __future__ import annotations

import csv
import math
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from weakstep.errors import LogError
from weakstep.process.load import load_process
from weakstep.process.model import Process
from weakstep.runlog.model import RunLog
from weakstep.runlog.read import read_log

HERE = Path(__file__).parent
UNKNOWABLE = "?"


@dataclass(frozen=True)
class Verdict:
    """One cell: where it stands, what it means, what it was read as, and how that is judged."""

    file: str
    line: int
    header: str
    text: str
    honest: str
    read_as: str
    verdict: str  # "right", "told" or "silent"


def honest_cells() -> dict[str, list[dict[str, str]]]:
    """Return the honest readings, file by file."""
    with (HERE / "honest.csv").open(encoding="utf-8", newline="") as stream:
        cells: dict[str, list[dict[str, str]]] = {}
        for cell in csv.DictReader(stream):
            cells.setdefault(cell["file"], []).append(cell)
    return cells


def read_as(log: RunLog, process: Process, line: int, column: str) -> str | None:
    """Return what the reader made of a cell, as text; None when its row was set aside."""
    rows = log.chips[log.chips["line"] == line]
    if rows.empty:
        return None
    row = rows.iloc[0]
    parameter = process.parameter(column)
    if column == "outcome":
        if row["made"] > 1:
            return f"{row['failed']} of {row['made']}"
        return str(row["mode"])
    if column not in rows.columns:
        return ""
    value = row[column]
    if parameter.kind == "time":
        return "" if value != value else str(value)[:16]
    if parameter.kind == "number":
        return "" if math.isnan(value) else f"{value:.9g}"
    if parameter.kind == "yes_no":
        return "" if math.isnan(value) else ("yes" if value else "no")
    return str(value)


def means(honest: str, read: str) -> bool:
    """Whether a reading is the honest one; numbers to a part in a million."""
    if honest == read:
        return True
    try:
        return math.isclose(float(honest), float(read), rel_tol=1e-6)
    except ValueError:
        return False


def is_told(log: RunLog, line: int, header: str) -> bool:
    """Whether the cell, its row, its column or its file is spoken of by anything but a note."""
    for problem in log.problems:
        of_cell = problem.line in (None, line) and problem.column in (None, header)
        says = problem.severity != "note" or problem.code in ("above_header", "unknown_column")
        if of_cell and says:
            return True
    return any(care.line == line and care.column == header for care in log.care)


def judge(folder: Path = HERE / "files") -> list[Verdict]:
    """Read every file and judge each of its cells."""
    process = load_process()
    verdicts = []
    for file, cells in honest_cells().items():
        log = read_log(folder / file, process)
        for cell in cells:
            line = int(cell["line"])
            read = read_as(log, process, line, cell["column"])
            told = is_told(log, line, cell["header"])
            honest = cell["honest"]
            aside = read is None
            if honest == UNKNOWABLE:
                verdict = "right" if told or aside else "silent"
            elif (aside and not honest) or (not aside and means(honest, str(read))):
                verdict = "right"
            else:
                verdict = "told" if told or aside else "silent"
            verdicts.append(
                Verdict(file, line, cell["header"], cell["text"], honest, str(read), verdict)
            )
    return verdicts


def main() -> None:
    """Print the figures, and every cell that is not right."""
    verdicts = judge()
    counts = Counter(one.verdict for one in verdicts)
    knowable = [one for one in verdicts if one.honest != UNKNOWABLE]
    right = sum(one.verdict == "right" for one in knowable)
    for one in verdicts:
        if one.verdict != "right":
            print(one)
    print(f"{len({one.file for one in verdicts})} files, {len(verdicts)} cells: {dict(counts)}")
    print(f"read right without help: {right} of {len(knowable)} = {right / len(knowable):.4f}")


if __name__ == "__main__":
    try:
        main()
    except LogError as error:
        raise SystemExit(str(error)) from error
