"""
Judge the reader against the honest readings: right, told about, or silently wrong.

Run it to see the figures: python tests/corpus/judge.py
"""

from __future__ import annotations

import csv
import sys
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from weakstep.errors import LogError
from weakstep.process.load import load_process
from weakstep.runlog.model import RunLog
from weakstep.runlog.read import read_log

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))
from readings import UNKNOWABLE, read_as, report, same  # noqa: E402


@dataclass(frozen=True)
class Verdict:
    """One cell: where it stands, what it means, what it was read as, and how that is judged."""

    file: str
    line: int
    header: str
    text: str
    honest: str
    read_as: str
    verdict: str  # "right", "told", "file" (only the whole file is spoken of) or "silent"
    told_of: str


def honest_cells() -> dict[str, list[dict[str, str]]]:
    """Return the honest readings, file by file."""
    with (HERE / "honest.csv").open(encoding="utf-8", newline="") as stream:
        cells: dict[str, list[dict[str, str]]] = {}
        for cell in csv.DictReader(stream):
            cells.setdefault(cell["file"], []).append(cell)
    return cells


def nearest_word(log: RunLog, line: int, header: str) -> str:
    """
    Return what the nearest word about a cell, notes left out, speaks of.

    "cell", "row" or "column"; "file" when only the whole file is spoken of, which nobody may think
    of at this cell; "nothing".
    """
    if any(care.line == line and care.column == header for care in log.care):
        return "cell"
    spoken_of = {
        (problem.line is not None, problem.column is not None)
        for problem in log.problems
        if problem.severity != "note" or problem.code in ("above_header", "unknown_column")
        if problem.line in (None, line) and problem.column in (None, header)
    }
    for place, name in (
        ((True, True), "cell"),
        ((True, False), "row"),
        ((False, True), "column"),
        ((False, False), "file"),
    ):
        if place in spoken_of:
            return name
    return "nothing"


def judge(folder: Path = HERE / "files") -> list[Verdict]:
    """Read every file and judge each of its cells."""
    process = load_process()
    verdicts = []
    for file, cells in honest_cells().items():
        log = read_log(folder / file, process)
        for cell in cells:
            line = int(cell["line"])
            read = read_as(log, line, cell["column"])
            honest = cell["honest"]
            told_of = "row set aside" if read is None else nearest_word(log, line, cell["header"])
            spoken = {"file": "file", "nothing": "silent"}.get(told_of, "told")
            if honest == UNKNOWABLE:
                verdict = "right" if spoken == "told" else spoken
            elif (read is None and not honest) or (read is not None and same(honest, read)):
                verdict = "right"
            else:
                verdict = spoken
            verdicts.append(
                Verdict(
                    file, line, cell["header"], cell["text"], honest, str(read), verdict, told_of
                )
            )
    return verdicts


def main() -> None:
    """Print the figures, and every cell that is not right."""
    verdicts = judge()
    told_of = Counter(one.told_of for one in verdicts if one.honest == UNKNOWABLE)
    print(report(verdicts))
    print(f"what no reader can know: {told_of.total()} cells, told of: {dict(told_of)}")


if __name__ == "__main__":
    try:
        main()
    except LogError as error:
        raise SystemExit(str(error)) from error
