"""The demo semester and the O-ring flights, read and reviewed once for all tests."""

from __future__ import annotations

import csv
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from weakstep.failures.analysis import analyse
from weakstep.failures.model import FailureAnalysis
from weakstep.process.load import load_process
from weakstep.reviewing import Review, review
from weakstep.runlog.model import RunLog
from weakstep.runlog.read import read_log

DATASETS = Path(__file__).parents[2] / "datasets"
SCRIPT = DATASETS / "semester" / "make_semester.py"


@pytest.fixture(scope="session")
def semester() -> Path:
    """Return the folder of the demo semester."""
    return DATASETS / "semester"


@pytest.fixture(scope="session")
def remade(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make the semester again elsewhere, with the honest reading of every cell."""
    folder = tmp_path_factory.mktemp("semester")
    command = [sys.executable, str(SCRIPT), "--into", str(folder), "--every-cell"]
    subprocess.run(command, check=True)
    return folder


@pytest.fixture(scope="session")
def every_cell(remade: Path) -> list[dict[str, str]]:
    """Return file, line, column, parameter, text, honest reading and kind of every cell."""
    with (remade / "truth.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


@pytest.fixture(scope="session")
def semester_log(semester: Path) -> RunLog:
    """Read the four files of the demo semester."""
    return read_log(semester / "logs", load_process())


@pytest.fixture(scope="session")
def semester_review(semester_log: RunLog) -> Review:
    """Review the demo semester as `weakstep review` does."""
    return review(semester_log)


@pytest.fixture(scope="session")
def orings_review() -> Review:
    """Review the O-ring flights through their own process description."""
    process = load_process(DATASETS / "orings" / "process.toml")
    return review(read_log(DATASETS / "orings" / "orings.csv", process))


@dataclass(frozen=True, eq=False)
class Analysed:
    """An open log and what its failures, or its measured outcome, are linked to."""

    log: RunLog
    failures: FailureAnalysis


def analysed(name: str) -> Analysed:
    """Analyse an open log through its own process description."""
    process = load_process(DATASETS / name / "process.toml")
    log = read_log(DATASETS / name / f"{name}.csv", process)
    return Analysed(log, analyse(log, seed=0, permutations=999))


@pytest.fixture(scope="session")
def bands() -> Analysed:
    """Analyse the printing process."""
    return analysed("bands")


@pytest.fixture(scope="session")
def chemical() -> Analysed:
    """Analyse the chemical process."""
    return analysed("chemical")
