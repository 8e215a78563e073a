"""The two small semesters: made again byte by byte, and what a review says of them."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from weakstep.cli import main

FOLDER = Path(__file__).parents[2] / "datasets" / "two_semesters"
FOLDERS = [str(FOLDER / "2025-autumn"), str(FOLDER / "2026-spring")]


def test_the_files_are_what_the_script_makes(tmp_path: Path) -> None:
    """Every byte."""
    command = [sys.executable, str(FOLDER / "make_two_semesters.py"), "--into", str(tmp_path)]
    subprocess.run(command, check=True, capture_output=True)
    made = [path.relative_to(tmp_path) for path in tmp_path.rglob("*.csv")]
    assert len(made) == 3
    for name in made:
        assert (tmp_path / name).read_bytes() == (FOLDER / name).read_bytes(), name


def test_review_follows_the_semesters_and_the_changes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Folders are semesters, the list is found, the change that worked is told, marks are drawn."""
    out = tmp_path / "report"
    assert main(["review", *FOLDERS, "-o", str(out), "--permutations", "99", "--static"]) == 0
    assert "Tighten contact first" in capsys.readouterr().out
    found = json.loads((out / "findings.json").read_text(encoding="utf-8"))
    history = found["history"]
    assert [one["name"] for one in history["semesters"]] == ["2025-autumn", "2026-spring"]
    assert history["told_by"] == "the folder of each file"
    delay, balance = history["changes"]
    assert delay["comparison"]["changes"][0]["difference"]["upper"] < 0.0
    assert "Bond failures fell from 16 % to 7 %" in delay["sentence"]
    assert "Changed elsewhere meanwhile" in delay["sentence"]
    assert "No change of bond failures can be shown yet" in balance["sentence"]
    assert [event["kind"] for event in found["events"]] == ["semester", "change", "change"]
    page = (out / "report.html").read_text(encoding="utf-8")
    assert 'id="history"' in page
    assert "change made by the lab" in page
    assert "Bond failures fell from" in (out / "summary.md").read_text(encoding="utf-8")


def test_a_list_that_cannot_be_used_stops_the_review(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 2 and one sentence with file, line and column."""
    listed = tmp_path / "ours.csv"
    listed.write_text("date,change,parameter\n2026-03-20,delay limited,delya\n", "utf-8")
    words = ["review", *FOLDERS, "-o", str(tmp_path / "report"), "--changes", str(listed)]
    assert main(words) == 2
    said = capsys.readouterr().err
    assert "weakstep: ours.csv:2: column 'parameter': found 'delya'" in said
    assert not (tmp_path / "report").exists()
