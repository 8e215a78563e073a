"""Rows and files that are there twice, and rows that look copied."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from weakstep.process.model import Process
from weakstep.runlog.model import Problem, RunLog
from weakstep.runlog.read import read_log

ReadText = Callable[..., RunLog]
TheProblem = Callable[[RunLog, str], Problem]
Codes = Callable[[RunLog], list[str]]


def test_the_same_file_twice(six: str, tmp_path: Path, process: Process) -> None:
    """A copy under another name counts once; the same path twice is read once."""
    for name in ("a.csv", "b.csv"):
        (tmp_path / name).write_text(six)
    log = read_log([tmp_path / "a.csv", tmp_path / "b.csv", tmp_path / "a.csv"], process)
    assert (log.rows_read, len(log.chips), len(log.set_aside)) == (12, 6, 6)
    assert [p.code for p in log.problems if p.severity == "set_aside"] == ["same_file_twice"]


def test_repeated_rows_count_once(six: str, tmp_path: Path, process: Process) -> None:
    """Also when the other file writes them in another way."""
    (tmp_path / "a.csv").write_text(six + "C0,R0,2026-03-02,OP1,30,good\n")
    (tmp_path / "b.csv").write_text(
        "chip;run;date;who;delay (min);result\nC1;R0;2.3.2026;OP1;0,516666666667;leak\n"
    )
    log = read_log(tmp_path, process)
    assert (log.rows_read, len(log.chips)) == (8, 6)
    told = [(p.file, p.line) for p in log.problems if p.code == "repeated_row"]
    assert told == [("a.csv", 8), ("b.csv", 2)]
    assert log.set_aside["reason"].unique().tolist() == ["the same row is there already"]


def test_alike_chips_without_a_name_are_no_duplicates(read_text: ReadText, codes: Codes) -> None:
    """Two chips of one run may be alike in all that was logged."""
    log = read_text("run_id,delay_s,outcome\nR1,30,good\nR1,30,good\n")
    assert (len(log.chips), codes(log)) == (2, [])


def test_one_chip_with_two_stories(read_text: ReadText, the_problem: TheProblem) -> None:
    """Both rows are used, and it is asked."""
    log = read_text("chip_id,run_id,delay_s,outcome\nC1,R1,30,good\nC1,R1,30,leak\n")
    assert the_problem(log, "same_id_twice").line == 3
    assert len(log.chips) == 2


WIDE = (
    "chip_id,run_id,started_at,operator,base_g,agent_g,mix_min,degas_min,cure_c,cure_h,plasma_s,"
    "power_w,delay_s,bake_min,outcome\n"
    "C1,R1,2026-03-02 14:00,OP1,30,3,4,30,70,2,35,30,45,30,good\n"
    "C2,R1,2026-03-02 14:00,OP1,30,3,4,30,70,2,35,30,45,30,good\n"
    "C3,R2,{time},OP1,30,3,4,30,70,2,35,30,{delay},30,leak\n"
    "C4,R2,{time},OP1,30,3,4,30,70,2,35,30,{delay},30,leak\n"
)


def test_copied_rows_are_pointed_out(read_text: ReadText, the_problem: TheProblem) -> None:
    """Another run with the same time and 11 equal settings was copied; asked once per run."""
    log = read_text(WIDE.format(time="2026-03-02 14:00", delay=45))
    problem = the_problem(log, "copied_row")
    assert (problem.line, problem.found) == (4, "R2")
    assert "those of run R1 (log.csv:2)" in problem.message
    assert len(log.chips) == 4


def test_a_routine_run_at_another_hour_is_no_copy(read_text: ReadText, codes: Codes) -> None:
    """Runs done the same way are alike; that is no reason to ask."""
    assert codes(read_text(WIDE.format(time="2026-03-02 15:00", delay=45))) == []


def test_another_run_at_the_same_minute_with_one_other_cell(
    read_text: ReadText, the_problem: TheProblem
) -> None:
    """The same minute and all but one cell: copied and half corrected, so it is asked."""
    log = read_text(WIDE.format(time="2026-03-02 14:00", delay=46))
    problem = the_problem(log, "copied_row")
    assert problem.line == 4
    assert "except delay from glow to contact equal those of run R1" in problem.message


def test_runs_of_one_day_without_clock_times_are_no_near_copies(
    read_text: ReadText, codes: Codes
) -> None:
    """A date alone is no moment: two alike runs of a day may differ in one cell."""
    assert (
        codes(
            read_text(
                WIDE.replace("2026-03-02 14:00", "2026-03-02").format(time="2026-03-02", delay=46)
            )
        )
        == []
    )
