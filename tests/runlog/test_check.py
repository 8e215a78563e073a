"""Plausible ranges, ditto marks, spellings, the order of problems."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from weakstep.process.model import Process
from weakstep.runlog.model import Problem, RunLog
from weakstep.runlog.read import read_log

ReadText = Callable[..., RunLog]
TheProblem = Callable[[RunLog, str], Problem]


def test_implausible_cells_count_as_missing(read_text: ReadText, the_problem: TheProblem) -> None:
    """Both ends of a range belong to it; the sentence says where, what was found, what to do."""
    log = read_text("run_id,rh_pct,outcome\nR1,0,good\nR2,1,good\nR3,100,good\n")
    problem = the_problem(log, "out_of_range")
    assert str(problem) == (
        "log.csv:2: column 'rh_pct': found '0'. Outside the plausible range 1 to 100 %; "
        "the cell counts as missing. If 0 stands for 'not measured', leave the cell empty."
    )
    assert np.array_equal(log.chips["rh_pct"], [np.nan, 1.0, 100.0], equal_nan=True)


def test_absurd_and_foreign_numbers(read_text: ReadText) -> None:
    """Numbers beyond any measurement are none, in any unit; other scripts' digits are read."""
    log = read_text("run_id,bake (h),outcome\nR1,1e300,good\nR2,9e15,good\nR3,\u0663,good\n")
    assert [(p.line, p.code) for p in log.problems] == [(2, "not_a_number"), (3, "not_a_number")]
    assert log.chips["bake_min"].tolist()[2] == 180.0


def test_a_file_whose_rows_are_all_set_aside(six: str, tmp_path: Path, process: Process) -> None:
    """The rows of the other file are read, and none is lost."""
    (tmp_path / "a.csv").write_text("run_id,operator,touched,started_at,delay_s\nR1,OP1,no,,1,2\n")
    (tmp_path / "b.csv").write_text(six)
    log = read_log(tmp_path, process)
    assert (log.rows_read, len(log.chips), len(log.set_aside)) == (7, 6, 1)
    alone = read_log(tmp_path / "a.csv", process)
    assert (len(alone.chips), len(alone.runs), len(alone.set_aside)) == (0, 0, 1)
    assert alone.runs.week.tolist() == []


def test_a_gauge_pressure_is_explained(read_text: ReadText, the_problem: TheProblem) -> None:
    """Below zero it can only be a gauge reading: taken off the air pressure, and asked about.

    Standard atmosphere 101.325 kPa (ISO 2533); 1 inHg = 3.386389 kPa (NIST SP 811, from memory).
    """
    log = read_text("run_id,vacuum_kpa,outcome\nR1,-80,good\nR2,-27 inHg,ok\nR3,-0.09 MPa,ok\n")
    expected = [101.325 - 80, 101.325 - 27 * 3.386389, 101.325 - 90]
    assert log.chips["vacuum_kpa"].tolist() == pytest.approx(expected)
    assert [p.code for p in log.problems if p.severity == "question"] == ["vague_value"] * 3
    below = read_text("run_id,vacuum_kpa,outcome\nR1,-120,good\n")
    assert "gauge reading: log the absolute pressure" in the_problem(below, "out_of_range").action


def test_a_gauge_pressure_in_the_header_is_not_taken(read_text: ReadText) -> None:
    """80 below the air pressure is not 80; the column is asked about and left alone."""
    log = read_text("run_id,vacuum (kPa gauge),outcome\nR1,80,good\n")
    assert "vacuum_kpa" not in log.chips
    assert [p.code for p in log.problems if p.severity == "question"] == ["unknown_column"]


def test_a_unit_that_would_make_all_cells_plausible_is_asked_for(
    read_text: ReadText, the_problem: TheProblem
) -> None:
    """An oven at 300 to 320 is in F; the cells count as missing until somebody says so."""
    rows = "".join(f"R{i},{300 + i},ok\n" for i in range(4))
    log = read_text("run_id,cure_c,outcome\n" + rows)
    actions = {p.action for p in log.problems if p.code == "out_of_range"}
    assert actions == {"Is it in F? Then write the unit in the cell or in the header."}
    assert log.chips["cure_c"].isna().all()


def test_ditto_marks_take_the_row_above(read_text: ReadText) -> None:
    """In numbers, names and yes/no; told each time, and missing where the row above is."""
    log = read_text(
        'run_id,operator,delay_s,touched,outcome\nR1,OP1,"""",same,good\n'
        'R2,OP2,30,yes,good\nR3,"""",same,ditto,leak\n'
    )
    assert log.chips["delay_s"].tolist()[1:] == [30.0, 30.0]
    assert np.isnan(log.chips["delay_s"][0])
    assert log.chips["operator"].tolist() == ["OP1", "OP2", "OP2"]
    assert log.chips["touched"].tolist()[1:] == [1.0, 1.0]
    assert [care.taken_as for care in log.care] == ["missing", "missing", "OP2", "30 s", "yes"]


def test_two_spellings_are_asked_about_and_kept_apart(
    read_text: ReadText, the_problem: TheProblem, process: Process
) -> None:
    """Until the lab's description says they are the same."""
    text = "run_id,operator,delay_s,outcome\nR1,AK,30,ok\nR2,AK,30,ok\nR3,a.k.,30,ok\nR4,BL,30,ok\n"
    log = read_text(text)
    problem = the_problem(log, "two_spellings")
    assert (problem.line, problem.found) == (4, "a.k.")
    assert log.runs.operator.tolist() == ["AK", "AK", "a.k.", "BL"]
    operator = dataclasses.replace(process.parameter("operator"), spellings={"AK": ("a.k.",)})
    merged = dataclasses.replace(
        process,
        parameters=tuple(operator if p.name == "operator" else p for p in process.parameters),
    )
    again = read_text(text, described=merged)
    assert again.runs.operator.tolist() == ["AK", "AK", "AK", "BL"]
    assert [(care.found, care.taken_as) for care in again.care] == [("a.k.", "AK")]


def test_problems_come_worst_first(read_text: ReadText) -> None:
    """Set aside, missing, questions, notes."""
    log = read_text(
        "run_id,sticker,delay_s,rh_pct,outcome\nR1,,30,40,weird\nR2,,x y,0,ok\nR3,,30,40,ok,,more\n"
    )
    order = ["set_aside", "cell_missing", "question", "note"]
    ranks = [order.index(problem.severity) for problem in log.problems]
    assert ranks == sorted(ranks)
    assert set(ranks) == {0, 1, 2, 3}
