"""Logs that cannot be used, or hardly: one clear sentence, or a log that says what is wrong."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from weakstep.errors import LogError
from weakstep.process.model import Process
from weakstep.runlog.model import Problem, RunLog
from weakstep.runlog.read import read_log

ReadText = Callable[..., RunLog]
TheProblem = Callable[[RunLog, str], Problem]
Codes = Callable[[RunLog], list[str]]


@pytest.mark.parametrize(
    ("raw", "message"),
    [
        (b"", r"log\.csv: the file is empty"),
        (b"\n \n,,\n", r"log\.csv: the file is empty"),
        (b"delay_s,outcome\n", r"log\.csv: the file has a header but no rows"),
        (b"delay_s,outcome\n,\n\n", r"log\.csv: the file has a header but no rows"),
        (bytes(range(256)) * 4, r"log\.csv: is not readable text"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", r"log\.csv: is not readable text"),
        (b"\xff\xfe\x00", r"log\.csv: is not readable text"),
        (b"delay\x01\x81,outcome\n", r"log\.csv: is not readable text"),
        (b"PK\x03\x04 zipped", r"log\.csv: the workbook is damaged"),
        (b"colour,weather\nred,fine\n", r"no column of the header is described; found colour"),
        (b"delay_s,notes\n1," + b"x" * 200_000, r"log\.csv:2: the line cannot be split"),
    ],
)
def test_unusable_files_give_one_sentence(read_text: ReadText, raw: bytes, message: str) -> None:
    """A LogError that names the file and says what to do, on one line."""
    with pytest.raises(LogError, match=message) as caught:
        read_text(raw)
    assert "\n" not in str(caught.value)


def test_nothing_there(tmp_path: Path, process: Process) -> None:
    """A missing file, an empty folder, a pattern without match, no path at all."""
    with pytest.raises(LogError, match=r"none\.csv: there is no such file"):
        read_log(tmp_path / "none.csv", process)
    with pytest.raises(LogError, match="no file matches it as a pattern"):
        read_log(str(tmp_path / "*.csv"), process)
    with pytest.raises(LogError, match=r"the folder holds no log"):
        read_log(tmp_path, process)
    with pytest.raises(LogError, match="No log was given"):
        read_log([], process)
    with pytest.raises(LogError, match=r"the path cannot be used|there is no such file"):
        read_log("a" * 5000, process)
    with pytest.raises(LogError, match="there is no such file"):
        read_log("a\0b", process)


def test_a_log_without_outcomes_can_still_be_looked_at(
    read_text: ReadText, the_problem: TheProblem
) -> None:
    """All chips are untested, and that is said."""
    log = read_text("run_id,delay_s\nR1,30\nR2,40\n")
    assert the_problem(log, "no_outcome_column").severity == "question"
    assert set(log.chips["mode"]) == {"not_tested"}
    assert log.runs.tested.tolist() == [0, 0]
    assert log.runs.numbers["delay_s"].tolist() == [30.0, 40.0]


@pytest.mark.parametrize("rows", [1, 2, 40])
@pytest.mark.parametrize("word", ["good", "leak", ""])
def test_one_row_one_run_all_good_all_failed(
    read_text: ReadText, codes: Codes, rows: int, word: str
) -> None:
    """A log without any contrast is read like another."""
    text = "chip_id,run_id,delay_s,outcome\n" + "".join(f"C{i},R1,30,{word}\n" for i in range(rows))
    log = read_text(text)
    assert codes(log) == []
    assert len(log.runs) == 1
    assert log.runs.tested.tolist() == [0 if word == "" else rows]
    assert log.runs.failed["bond"].tolist() == [rows if word == "leak" else 0]


def test_an_empty_column_and_a_constant_one(read_text: ReadText, the_problem: TheProblem) -> None:
    """The empty one is told and left out of the runs; the constant one is as it is."""
    log = read_text("run_id,delay_s,power_w,outcome\nR1,,30,good\nR2,,30,leak\n")
    assert the_problem(log, "empty_column").column == "delay_s"
    assert list(log.runs.numbers.columns) == ["power_w"]
    assert log.chips["delay_s"].isna().all()


def test_a_bad_file_among_good_ones_is_left_out(six: str, tmp_path: Path, process: Process) -> None:
    """The others are read."""
    (tmp_path / "a.csv").write_text(six)
    (tmp_path / "b.csv").write_bytes(b"\x00\x01\x02")
    log = read_log(tmp_path, process)
    assert log.rows_read == 6
    assert (log.problems[0].file, log.problems[0].code) == ("b.csv", "unusable_file")
    assert [file.file for file in log.inputs] == ["a.csv"]
