"""Every cell of the messy files is either read right or told about."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

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
def hostile() -> ModuleType:
    """Load the judge of the hostile files."""
    return loaded("hostile_judge", HERE / "hostile" / "judge.py")


def test_no_cell_is_misread_in_silence(judge: ModuleType) -> None:
    """0 silent misreadings, and at least 95 % of the knowable cells right without help."""
    verdicts = judge.judge()
    assert len({one.file for one in verdicts}) >= 60
    assert [one for one in verdicts if one.verdict == "silent"] == []
    knowable = [one for one in verdicts if one.honest != judge.UNKNOWABLE]
    right = sum(one.verdict == "right" for one in knowable)
    assert right / len(knowable) >= 0.95


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


def test_no_hostile_cell_is_misread_in_silence(hostile: ModuleType) -> None:
    """The same for files written against the reader, where a note does not count as told."""
    cells = hostile.judge()
    assert len({cell.file for cell in cells}) >= 35
    assert [cell for cell in cells if cell.verdict == "silent"] == []
    known = [cell for cell in cells if cell.honest != "?"]
    assert sum(cell.verdict == "right" for cell in known) / len(known) >= 0.95


def test_the_hostile_files_are_those_described(hostile: ModuleType, tmp_path: Path) -> None:
    """Every text file is what its description says; none is left out."""
    hostile.write_files(tmp_path)
    for path in tmp_path.iterdir():
        assert path.read_bytes() == (HERE / "hostile" / "files" / path.name).read_bytes()
    judged = {file for file, _, _ in hostile.honest_rows()}
    assert judged == {path.name for path in (HERE / "hostile" / "files").iterdir()}
