"""A log from a few lines of text, read with the built-in process or another one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import pytest

from weakstep.process.load import load_process
from weakstep.process.model import Process
from weakstep.runlog.model import Problem, RunLog
from weakstep.runlog.read import read_log

ReadText = Callable[..., RunLog]


@pytest.fixture(scope="session")
def process() -> Process:
    """Load the built-in process once."""
    return load_process()


@pytest.fixture
def read_text(tmp_path: Path, process: Process) -> ReadText:
    """Write a text (or bytes) to a file and read it as a log."""

    def read(text: str | bytes, name: str = "log.csv", described: Process | None = None) -> RunLog:
        path = tmp_path / name
        path.write_bytes(text.encode() if isinstance(text, str) else text)
        return read_log(path, described or process)

    return read


@pytest.fixture
def read_column(read_text: ReadText) -> Callable[[str, Sequence[object]], RunLog]:
    """Read a log of good chips with one column more."""

    def read(header: str, cells: Sequence[object]) -> RunLog:
        rows = "".join(f"C{i};{cell};ok\n" for i, cell in enumerate(cells))
        return read_text(f"chip_id;{header};outcome\n{rows}")

    return read


@pytest.fixture
def codes() -> Callable[[RunLog], list[str]]:
    """Return a function that lists the codes of all problems except notes."""

    def of(log: RunLog) -> list[str]:
        return [problem.code for problem in log.problems if problem.severity != "note"]

    return of


@pytest.fixture
def the_problem() -> Callable[[RunLog, str], Problem]:
    """Return a function that finds the one problem with a code."""

    def of(log: RunLog, code: str) -> Problem:
        found = [problem for problem in log.problems if problem.code == code]
        assert len(found) == 1, [str(problem) for problem in log.problems]
        return found[0]

    return of


@pytest.fixture
def six() -> str:
    """Return a log of six chips in three runs, in clean cells but outcomes in own words."""
    words = ["good", "leak", "ok", "OK", "no bond", "good"]
    rows = [
        f"C{i},R{i // 2},2026-03-{2 + i // 2:02d},OP1,{30 + i},{word}\n"
        for i, word in enumerate(words)
    ]
    return "chip_id,run_id,started_at,operator,delay_s,outcome\n" + "".join(rows)
