"""An empty log reads back as its process."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from weakstep.errors import LogError, OutputError
from weakstep.process.model import Process
from weakstep.runlog.columns import HeaderBook
from weakstep.runlog.read import read_log
from weakstep.runlog.template import write_sheet


def rows_of(path: Path) -> list[list[str]]:
    """All rows of a CSV file."""
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.reader(stream))


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


def test_a_place_that_cannot_be_written(process: Process, tmp_path: Path) -> None:
    """One sentence that names it."""
    with pytest.raises(OutputError, match="empty log cannot be written"):
        write_sheet(process, tmp_path / "no folder" / "log.csv")
