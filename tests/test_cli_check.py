"""`check` and `sheet` as a user types them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from weakstep.cli import main

MESS = (
    "chip,run,date,cure temp,ratio,dellay_s,result\n"
    "C1,R1,2026-03-02,70,10:1,30,ok\nC2,R1,2026-03-02,700,1:10,31,weird\n"
)


@pytest.fixture
def log(tmp_path: Path) -> Path:
    """Write a small messy log."""
    path = tmp_path / "log.csv"
    path.write_text(MESS, encoding="utf-8")
    return path


def test_check_shows_the_mapping_and_what_to_do_worst_first(
    log: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Columns, problems by how bad they are, counts, and the question of unlogged chips."""
    assert main(["check", str(log)]) == 1
    printed = capsys.readouterr().out
    places = [
        printed.index(words)
        for words in (
            "'chip' -> chip_id (alias)",
            "Cells that count as missing\n  log.csv: line 3: 'cure temp': found '700'.",
            "Questions\n",
            "2 rows read, 0 set aside;",
            "Were failed chips always logged?",
        )
    ]
    assert places == sorted(places)


def test_check_for_programs(log: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """JSON and CSV say the same, and nothing else is printed."""
    assert main(["check", str(log), "--format", "json"]) == 1
    said = json.loads(capsys.readouterr().out)
    assert main(["check", str(log), "--format", "csv"]) == 1
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 1 + len(said["problems"])
    assert said["rows_read"] == 2


def test_the_corrected_copy_is_clean_and_the_log_untouched(
    log: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A second check ends with 0; a file of the log is never written over."""
    clean = tmp_path / "clean.csv"
    assert main(["check", str(log), "--write-clean", str(clean)]) == 1
    assert main(["check", str(clean)]) == 0
    assert main(["check", str(log), "--write-clean", str(log)]) == 2
    assert "is a file of the log, which is never touched" in capsys.readouterr().err
    assert log.read_text(encoding="utf-8") == MESS


def test_a_mapping_is_saved_answered_and_used(
    log: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The header that was asked about is placed once the file says so."""
    mapping = tmp_path / "mapping.toml"
    main(["check", str(log), "--save-mapping", str(mapping)])
    text = mapping.read_text(encoding="utf-8").replace('# "dellay_s"', '"dellay_s"')
    mapping.write_text(text, encoding="utf-8")
    capsys.readouterr()
    main(["check", str(log), "--mapping", str(mapping)])
    assert "'dellay_s' -> delay_s in s (mapping file)" in capsys.readouterr().out


@pytest.mark.parametrize("suffix", [".csv", ".xlsx", ".html"])
def test_sheet_writes_what_the_name_asks_for(suffix: str, tmp_path: Path) -> None:
    """A header line, a workbook, a page to print."""
    path = tmp_path / f"log{suffix}"
    assert main(["sheet", "-o", str(path)]) == 0
    starts = {".csv": b"chip_id,", ".xlsx": b"PK", ".html": b"<!doctype html>"}
    assert path.read_bytes().startswith(starts[suffix])


def test_sheet_refuses_another_kind_of_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One sentence, exit code 2."""
    assert main(["sheet", "-o", str(tmp_path / "log.pdf")]) == 2
    assert "choose one of them" in capsys.readouterr().err
