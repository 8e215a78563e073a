"""
Judge the reader on the hostile files: right, told about, or silently wrong.

`python tests/corpus/hostile/judge.py` prints the figures and every cell that is not right; with
`--write` it makes the text files again from their descriptions first.
"""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from weakstep.errors import LogError
from weakstep.process.load import load_process
from weakstep.runlog.model import RunLog
from weakstep.runlog.read import read_log

HERE = Path(__file__).parent
FILES = HERE / "files"
sys.path.insert(0, str(HERE.parent))
from readings import read_as, report, same  # noqa: E402


@dataclass(frozen=True)
class Cell:
    """One cell: its file, line and column, what it means, what it was read as, the verdict."""

    file: str
    line: int
    column: str
    honest: str
    read_as: str
    verdict: str  # "right", "told" or "silent"


def cases() -> dict[str, dict[str, str]]:
    """Return the described files."""
    return tomllib.loads((HERE / "cases.toml").read_text(encoding="utf-8"))


def write_files(folder: Path) -> None:
    """Write every text file of the descriptions."""
    folder.mkdir(exist_ok=True)
    for name, case in cases().items():
        if "file" not in case:
            continue
        text = case["file"].replace("\n", case.get("newline", "\n"))
        encoding = case.get("encoding", "utf-8")
        stored = (
            b"\xfe\xff" + text.encode("utf-16-be")
            if encoding == "utf-16-be-bom"
            else text.encode(encoding)
        )
        (folder / f"{name}.csv").write_bytes(stored)


def honest_rows() -> Iterator[tuple[str, int, dict[str, str]]]:
    """Return (file, line, column to honest reading); an empty dict is a row that is no run."""
    for name, case in cases().items():
        file = f"{name}.csv" if "file" in case else name
        head, *lines = case["honest"].strip().split("\n")
        columns = [cell.strip() for cell in head.split("¦")][1:]
        for line in lines:
            number, *cells = [cell.strip() for cell in line.split("¦")]
            named = {} if cells == ["aside"] else dict(zip(columns, cells, strict=True))
            yield file, int(number), named


def headers_of(log: RunLog, column: str) -> set[str | None]:
    """Return the headers read as a column, and those that nobody could place."""
    return {match.header for match in log.columns if match.parameter in (column, None)}


def is_told(log: RunLog, line: int, column: str) -> bool:
    """Whether the cell, its row or its whole column is spoken of by anything but a note."""
    headers = headers_of(log, column)
    for problem in log.problems:
        if problem.severity == "note" and problem.code != "unknown_column":
            continue
        of_line = problem.line in (None, line) and (problem.line, problem.column) != (None, None)
        if of_line and (problem.column is None or problem.column in headers):
            return True
    return any(care.line == line and care.column in headers for care in log.care)


def verdict(log: RunLog, line: int, column: str, honest: str) -> tuple[str, str]:
    """Return what a cell was read as, and whether that is right, told about or silent."""
    read = read_as(log, line, column)
    told = read is None or is_told(log, line, column)
    wanted = honest.removesuffix("!").removeprefix("-") if honest != "?" else None
    if read is not None and wanted is not None and same(wanted, read):
        return read, "right" if told or not honest.endswith("!") else "silent"
    if wanted is None and told:
        return str(read), "right"
    return str(read), "told" if told else "silent"


def judge(folder: Path = FILES) -> list[Cell]:
    """Read every file and judge each of its cells."""
    process = load_process()
    logs: dict[str, RunLog | LogError] = {}
    cells = []
    for file, line, row in honest_rows():
        if file not in logs:
            try:
                logs[file] = read_log(folder / file, process)
            except LogError as refused:
                logs[file] = refused
        log = logs[file]
        if isinstance(log, LogError):
            cells.append(Cell(file, line, "", "", str(log), "told"))
        elif not row:
            away = (log.chips["line"] != line).all()
            told = any(problem.line == line for problem in log.problems)
            good = away and (told or (log.set_aside["line"] == line).any())
            cells.append(Cell(file, line, "", "aside", "", "right" if good else "silent"))
        else:
            for column, honest in row.items():
                if honest != "*":
                    read, judged = verdict(log, line, column, honest)
                    cells.append(Cell(file, line, column, honest, read, judged))
    return cells


def main() -> None:
    """Print the figures, and every cell that is not right."""
    if "--write" in sys.argv:
        write_files(FILES)
    print(report(judge()))


if __name__ == "__main__":
    main()
