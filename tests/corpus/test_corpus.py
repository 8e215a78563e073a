"""Every cell of the messy files is either read right or told about."""

from __future__ import annotations

import importlib.util
import sys
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import pytest

from weakstep.runlog.model import Problem

HERE = Path(__file__).parent


def loaded(name: str, path: Path) -> ModuleType:
    """Load a module from a file."""
    spec = importlib.util.spec_from_file_location(name, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def judge() -> ModuleType:
    """Load the judge from the file beside this one."""
    return loaded("corpus_judge", HERE / "judge.py")


@pytest.fixture(scope="module")
def readings() -> ModuleType:
    """Load what both judges share."""
    return loaded("corpus_readings", HERE / "readings.py")


@pytest.fixture(scope="module")
def hostile() -> ModuleType:
    """Load the judge of the hostile files."""
    return loaded("hostile_judge", HERE / "hostile" / "judge.py")


def test_no_cell_is_misread_in_silence(judge: ModuleType, readings: ModuleType) -> None:
    """None without a word about cell, row or column; 95 % of the knowable cells right at once."""
    verdicts = judge.judge()
    assert len({one.file for one in verdicts}) >= 60
    assert [one for one in verdicts if one.verdict in ("silent", "file")] == []
    right, knowable = readings.share_right(verdicts)
    assert right / knowable >= 0.95


def test_every_file_is_judged(judge: ModuleType) -> None:
    """No file of the folder is left out of the table of honest readings."""
    files = {path.name for path in (HERE / "files").iterdir()}
    assert files == set(judge.honest_cells())


def test_the_judge_sees_a_silent_misreading(judge: ModuleType, tmp_path: Path) -> None:
    """A file that was changed behind the table's back is found out."""
    folder = tmp_path / "files"
    folder.mkdir()
    for path in (HERE / "files").iterdir():
        (folder / path.name).write_bytes(path.read_bytes())
    text = (folder / "plain.csv").read_text(encoding="utf-8")
    (folder / "plain.csv").write_text(text.replace("35.5", "36.5"), encoding="utf-8")
    silent = [one for one in judge.judge(folder) if one.verdict == "silent"]
    assert [(one.file, one.line, one.read_as) for one in silent] == [("plain.csv", 3, "36.5")]


def test_a_word_about_the_whole_file_is_counted_apart(judge: ModuleType) -> None:
    """A problem without line and column tells of no cell; one of a row, a column or a cell does."""
    process = judge.load_process()
    log = judge.read_log(HERE / "files" / "plain.csv", process)

    def problem(line: int | None, column: str | None) -> Problem:
        return Problem("plain.csv", line, column, "", "invented", "Invented.", "", "question")

    def found(*problems: Problem) -> str:
        told: str = judge.nearest_word(replace(log, problems=problems, care=()), 3, "delay_s")
        return told

    assert found() == "nothing"
    assert found(problem(None, None)) == "file"
    assert found(problem(None, None), problem(None, "delay_s")) == "column"
    assert found(problem(3, None), problem(4, "delay_s")) == "row"
    assert found(problem(3, "delay_s")) == "cell"


def test_no_hostile_cell_is_misread_in_silence(hostile: ModuleType, readings: ModuleType) -> None:
    """The same for files written against the reader, where a note does not count as told."""
    cells = hostile.judge()
    assert len({cell.file for cell in cells}) >= 35
    assert [cell for cell in cells if cell.verdict == "silent"] == []
    right, known = readings.share_right(cells)
    assert right / known >= 0.95


def test_the_hostile_files_are_those_described(hostile: ModuleType, tmp_path: Path) -> None:
    """Every text file is what its description says; none is left out."""
    hostile.write_files(tmp_path)
    for path in tmp_path.iterdir():
        assert path.read_bytes() == (HERE / "hostile" / "files" / path.name).read_bytes()
    judged = {file for file, _, _ in hostile.honest_rows()}
    assert judged == {path.name for path in (HERE / "hostile" / "files").iterdir()}
