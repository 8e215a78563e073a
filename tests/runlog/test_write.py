"""Rows set aside are written out whole; an empty log reads back as its process."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from weakstep.errors import LogError, OutputError
from weakstep.process.model import Process
from weakstep.runlog.columns import HeaderBook
from weakstep.runlog.model import RunLog
from weakstep.runlog.read import read_log
from weakstep.runlog.template import write_sheet
from weakstep.runlog.write import write_set_aside


def rows_of(path: Path) -> list[list[str]]:
    """All rows of a CSV file."""
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.reader(stream))


def test_set_aside_rows_keep_their_cells(read_text: Callable[..., RunLog], tmp_path: Path) -> None:
    """With file, line and reason in front, and cells as they were found."""
    log = read_text(
        'chip_id,delay_s,outcome,line\nC1,30,ok,7\nC1,30,ok,7\nC2,"1,5 min","a, b",7,x\n'
    )
    target = write_set_aside(log, tmp_path / "aside.csv")
    header, *rows = rows_of(target)
    assert header[:3] == ["file", "line", "reason"]
    written = [dict(zip(header, row, strict=True)) for row in rows]
    assert [row["line"] for row in written] == ["3", "4"]
    assert written[0]["reason"] == "the same row is there already"
    assert (written[1]["delay_s"], written[1]["outcome"]) == ("1,5 min", "a, b")
    assert written[1]["cell of line"] == "7"


def test_nothing_set_aside_is_a_header_only(
    read_text: Callable[..., RunLog], tmp_path: Path
) -> None:
    """An empty table is written as such."""
    log = read_text("chip_id,delay_s,outcome\nC1,30,ok\n")
    assert rows_of(write_set_aside(log, tmp_path / "aside.csv")) == [["file", "line", "reason"]]


def test_an_empty_sheet_names_every_column(process: Process, tmp_path: Path) -> None:
    """Every header is a described column; computed ones are not asked for."""
    (header,) = rows_of(write_sheet(process, tmp_path / "sheet.csv"))
    book = HeaderBook(process)
    for name in header:
        match = book.match(name)
        assert match.parameter is not None
        assert name.startswith(match.parameter.name)
    assert {"delay_s", "outcome", "run_id"} <= set(header)
    assert not {"ratio", "plasma_dose_j", "chips_made"} & set(header)
    with pytest.raises(LogError, match="has a header but no rows"):
        read_log(tmp_path / "sheet.csv", process)


def test_a_place_that_cannot_be_written(
    read_text: Callable[..., RunLog], process: Process, tmp_path: Path
) -> None:
    """One sentence that names it."""
    log = read_text("chip_id,delay_s,outcome\nC1,30,ok\n")
    with pytest.raises(OutputError, match="rows set aside cannot be written"):
        write_set_aside(log, tmp_path / "no folder" / "aside.csv")
    with pytest.raises(OutputError, match="empty log cannot be written"):
        write_sheet(process, tmp_path / "no folder" / "log.csv")
