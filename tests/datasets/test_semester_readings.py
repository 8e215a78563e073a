"""
Every cell of the demo semester is read as its writer meant it, or the reader tells.

truth.csv was written by the script that made the mess, from what the hand meant, not from what
the reader makes of it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import pandas as pd
import pytest

from weakstep.process.load import load_process
from weakstep.runlog.model import RunLog

NAMES = ("chip_id", "run_id", "batch_id", "operator", "mould_id", "kit_lot", "punch_id")
Row = dict[str, str]


@pytest.fixture(scope="module")
def told(semester_log: RunLog) -> Callable[[Row], bool]:
    """Return a function saying whether the reader told about a cell, or about its whole row."""
    told_cells: set[tuple[str, int | None, str | None]] = {
        (item.file, item.line, item.column) for item in semester_log.care
    }
    told_cells |= {(item.file, item.line, item.column) for item in semester_log.problems}

    def is_told(cell: Row) -> bool:
        columns = {cell["column"]}
        if cell["kind"] == "base and agent swapped":  # one sentence names the two
            columns = {"base (g)", "agent (g)"}
        return any((cell["file"], int(cell["line"]), column) in told_cells for column in columns)

    return is_told


@pytest.fixture(scope="module")
def used(semester_log: RunLog) -> pd.DataFrame:
    """Return the rows in use, by file and line."""
    return semester_log.chips.set_index(["file", "line"])


def _used_cells(
    every_cell: list[Row], used: pd.DataFrame, parameters: set[str]
) -> Iterator[tuple[Row, object]]:
    for cell in every_cell:
        place = (cell["file"], int(cell["line"]))
        if cell["parameter"] in parameters and place in used.index:
            yield cell, used.loc[place, cell["parameter"]]


def _numbers() -> set[str]:
    return {parameter.name for parameter in load_process().parameters if parameter.kind == "number"}


def test_no_number_is_read_wrongly(
    every_cell: list[Row], used: pd.DataFrame, told: Callable[[Row], bool]
) -> None:
    """A number is what was meant to the digits written; else it is missing and told."""
    wrong = []
    checked = 0
    for cell, read in _used_cells(every_cell, used, _numbers()):
        value = float(read)  # type: ignore[arg-type]
        checked += 1
        if cell["honest"] == "missing":
            right = math.isnan(value)
        elif cell["honest"] == "ask" or math.isnan(value):
            right = told(cell)
        else:
            right = math.isclose(value, float(cell["honest"]), rel_tol=1e-5)
        if not right:
            wrong.append((cell["file"], cell["line"], cell["column"], cell["text"], value))
    assert checked > 5500
    assert wrong == []


def test_no_messy_number_is_read_in_silence(
    every_cell: list[Row], used: pd.DataFrame, told: Callable[[Row], bool]
) -> None:
    """A reading is told, but for plain numbers, their own unit, blanks, marks for missing."""
    quiet = ("plain", "own unit in cell", "blank", "mark for missing")
    silent = [
        (cell["file"], cell["line"], cell["column"], cell["text"])
        for cell, _ in _used_cells(every_cell, used, _numbers())
        if cell["kind"] not in quiet and not told(cell)
    ]
    assert silent == []


def test_most_messy_numbers_are_read_not_dropped(every_cell: list[Row], used: pd.DataFrame) -> None:
    """Units in cells, ranges, 'about', dittos and ratios in other writings give their number."""
    readable = {
        "unit in cell",
        "own unit in cell",
        "range",
        "about",
        "ditto",
        "ratio in another writing",
    }
    lost = [
        (cell["file"], cell["line"], cell["column"], cell["text"])
        for cell, read in _used_cells(every_cell, used, _numbers())
        if cell["kind"] in readable and math.isnan(float(read))  # type: ignore[arg-type]
    ]
    assert lost == []


def test_times_are_read(every_cell: list[Row], used: pd.DataFrame) -> None:
    """Four date styles, the day before the month or after the year, give one time line."""
    wrong = [
        (cell["file"], cell["line"], cell["text"], read)
        for cell, read in _used_cells(every_cell, used, {"started_at"})
        if read != pd.Timestamp(cell["honest"])
    ]
    assert wrong == []


def test_names_are_read(every_cell: list[Row], used: pd.DataFrame, semester_log: RunLog) -> None:
    """Ids are kept as written; an operator spelled two ways is one, or the spelling is told."""
    told_spellings = {(item.file, item.column, item.found) for item in semester_log.problems}
    wrong = [
        (cell["file"], cell["line"], cell["column"], cell["text"], read)
        for cell, read in _used_cells(every_cell, used, set(NAMES))
        if cell["honest"] != "missing"
        and read != cell["honest"]
        and (cell["file"], cell["column"], cell["text"]) not in told_spellings
    ]
    assert wrong == []


def test_outcomes_are_read(
    every_cell: list[Row], used: pd.DataFrame, told: Callable[[Row], bool]
) -> None:
    """Own words become their mode; what is in doubt is told and does not count as good."""
    modes = used.rename(columns={"mode": "mode_read"})
    wrong = []
    for cell in every_cell:
        place = (cell["file"], int(cell["line"]))
        if cell["parameter"] == "outcome" and place in modes.index:
            mode = modes.loc[place, "mode_read"]
            doubtful = cell["honest"] == "ask"
            if (mode == "good" or not told(cell)) if doubtful else mode != cell["honest"]:
                wrong.append((*place, cell["text"], mode))
    assert wrong == []


def test_a_row_is_out_only_when_pasted_twice_or_in_doubt(
    semester_log: RunLog, every_cell: list[Row]
) -> None:
    """The double paste is set aside, once; a row in doubt may be; every other row is used."""
    out = {
        (str(file), int(line)) for file, line in semester_log.set_aside[["file", "line"]].to_numpy()
    }
    pasted = {
        (cell["file"], int(cell["line"])) for cell in every_cell if cell["kind"] == "pasted twice"
    }
    may_be_out = pasted | {
        (cell["file"], int(cell["line"]))
        for cell in every_cell
        if cell["honest"] == "ask" and cell["parameter"] in ("", "outcome")
    }
    assert len(pasted) == 1
    assert pasted <= out <= may_be_out
    assert semester_log.rows_read == len(semester_log.chips) + len(semester_log.set_aside)


def test_a_copied_run_is_told(every_cell: list[Row], semester_log: RunLog) -> None:
    """A run filled in by copying the run before it is asked about."""
    copied = {
        (cell["file"], int(cell["line"])) for cell in every_cell if cell["kind"] == "copied run"
    }
    told_rows = [
        (item.file, item.line) for item in semester_log.problems if item.code == "copied_row"
    ]
    assert len(told_rows) == 1
    assert set(told_rows) <= copied


def test_the_unknown_column_is_told(semester_log: RunLog) -> None:
    """The newcomer's own column is the only one left alone, and it is named."""
    alone = [
        (match.file, match.header) for match in semester_log.columns if match.parameter is None
    ]
    assert alone == [("newcomer.csv", "sticker colour")]
    assert any(problem.column == "sticker colour" for problem in semester_log.problems)
