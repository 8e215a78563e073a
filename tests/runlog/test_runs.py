"""Chips gathered into runs, in time order."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from weakstep.process.model import Process
from weakstep.runlog.model import Problem, RunLog
from weakstep.runlog.read import read_log

ReadText = Callable[..., RunLog]
TheProblem = Callable[[RunLog, str], Problem]


def test_runs_in_time_order(read_text: ReadText) -> None:
    """Runs are sorted by time; a run without one stays behind the row above it in its file."""
    log = read_text(
        "run_id,started_at,delay_s,mould_id,outcome\nR3,2026-03-16,40,M1,ok\nR4,,30,M1,leak\n"
        "R1,2026-03-05,10,M1,ok\nR1,2026-03-05,40,M2,no bond\nR2,2026-03-09,30,,?\n"
    )
    runs = log.runs
    assert runs.run_id.tolist() == ["R1", "R2", "R3", "R4"]
    assert runs.week.tolist() == [0, 1, 2, 2]
    assert runs.numbers["delay_s"].tolist() == pytest.approx([20.0, 30.0, 40.0, 30.0])
    assert runs.categories["mould_id"].tolist() == ["several", "", "M1", "M1"]
    assert runs.tested.tolist() == [2, 0, 1, 1]
    assert runs.failed["bond"].tolist() == [1, 0, 0, 1]
    assert pd.isna(runs.started_at[3])
    assert len(runs) == 4


def test_rows_without_run_are_runs_of_their_own(
    read_text: ReadText, the_problem: TheProblem
) -> None:
    """Told once."""
    log = read_text("delay_s,outcome\n30,ok\n31,ok\n32,leak\n")
    assert the_problem(log, "rows_without_run").message.startswith("3 rows name no run")
    assert log.runs.run_id.tolist() == ["log.csv:2", "log.csv:3", "log.csv:4"]
    assert log.runs.week.tolist() == [0, 0, 0]


def test_one_run_id_on_different_days_in_different_files(
    tmp_path: Path, process: Process, the_problem: TheProblem
) -> None:
    """Two keepers who both begin at 1 do not share runs; the same run in two files stays one."""
    (tmp_path / "a.csv").write_text(
        "run,date,delay,result\n1,2026-03-02,30,ok\n2,2026-03-03,30,ok\n"
    )
    (tmp_path / "b.csv").write_text(
        "run,date,delay,result\n1,2026-04-02,30,ok\n2,2026-03-03,40,ok\n"
    )
    log = read_log(tmp_path, process)
    assert log.runs.run_id.tolist() == ["1 (a.csv)", "2", "1 (b.csv)"]
    assert the_problem(log, "run_id_used_twice").found == "1"


def test_identity_numbers_and_counts_are_no_run_numbers(read_text: ReadText) -> None:
    """What a mould stands and how many chips were made are not charted."""
    log = read_text(
        "run_id,mould_softening_c,delay_s,chips_made,chips_failed,test_kpa\nR1,60,30,6,1,50\n"
    )
    assert list(log.runs.numbers.columns) == ["delay_s", "test_kpa"]
