"""Outcome words, shares in a cell, counted rows."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from weakstep.process.load import load_process
from weakstep.runlog.model import Problem, RunLog
from weakstep.runlog.read import read_log

ReadText = Callable[..., RunLog]
TheProblem = Callable[[RunLog, str], Problem]
Codes = Callable[[RunLog], list[str]]


@pytest.mark.parametrize(
    ("word", "mode"),
    [
        ("OK", "good"),
        ("✓", "good"),
        ("pass", "good"),
        ("Leaked a bit", "leak"),
        ("No Bond", "no_bond"),
        ("no_bond", "no_bond"),
        ("port-leak", "port_leak"),
        ("klebrig", "undercure"),
        ("fuite", "leak"),
        ("FAIL", "failed"),
        ("?", "unknown"),
        ("n/a", "not_tested"),
        ("", "not_tested"),
    ],
)
def test_outcome_words(read_text: ReadText, codes: Codes, word: str, mode: str) -> None:
    """Described words in any capitals, and marks; untested is never good."""
    log = read_text(f"run_id,delay_s,outcome\nR1,30,{word}\n")
    assert log.chips["mode"].tolist() == [mode]
    assert codes(log) == []


@pytest.mark.parametrize("word", ["worked after re-press", "fail?", "goood", "3/4", "7/6 ok"])
def test_unknown_outcome_words_never_count_as_good(
    read_text: ReadText, the_problem: TheProblem, word: str
) -> None:
    """They count as untested, and are asked about."""
    log = read_text(f"run_id,delay_s,outcome\nR1,30,{word}\n")
    assert the_problem(log, "unknown_outcome").found == word
    assert log.runs.tested.tolist() == [0]


def test_words_read_as_outcomes_are_told_once_a_file(
    six: str, read_text: ReadText, the_problem: TheProblem
) -> None:
    """Only those that are not the mode's own name."""
    problem = the_problem(read_text(six), "outcome_words")
    assert problem.severity == "note"
    assert "'OK' as good, 'ok' as good." in problem.message


def test_counts_in_a_cell(read_text: ReadText) -> None:
    """'4/6 ok' is six chips of which two failed; what of is not said."""
    log = read_text("run_id,delay_s,outcome\nR1,30,4/6 ok\nR2,30,2 of 6 leaked\nR3,31,6/6 good\n")
    assert log.chips[["mode", "made", "failed"]].to_numpy().tolist() == [
        ["", 6, 2],
        ["leak", 6, 2],
        ["good", 6, 0],
    ]
    assert log.runs.failed["unsorted"].tolist() == [2, 0, 0]
    assert log.runs.failed["bond"].tolist() == [0, 2, 0]
    assert [care.taken_as for care in log.care] == [
        "2 of 6 failed",
        "2 of 6 failed",
        "0 of 6 failed",
    ]


def test_counted_rows(read_text: ReadText) -> None:
    """Counts of made and failed; impossible ones are set aside, incomplete ones are untested."""
    log = read_text(
        "run_id,delay_s,chips_made,chips_failed,outcome\nR1,30,6,2,\nR2,30,6,3,leak\nR3,30,4,5,\n"
        "R4,30,,2,\nR5,30,6,,good\nR6,30,5.5,1,\nR7,30,6,,\n"
    )
    runs = dict(
        zip(
            log.runs.run_id, zip(log.runs.tested, log.runs.failed["bond"], strict=True), strict=True
        )
    )
    assert runs["R1"] == (6, 0)
    assert runs["R2"] == (6, 3)
    assert runs["R4"] == (0, 0)
    assert runs["R5"] == (6, 0)
    assert runs["R7"] == (0, 0)
    assert log.runs.failed["unsorted"].tolist()[0] == 2
    assert log.set_aside[["line", "run_id"]].to_numpy().tolist() == [[4, "R3"]]
    told = {p.line: p.code for p in log.problems if p.severity != "note" and p.line != 7}
    assert told == {4: "more_failed_than_made", 5: "made_missing"}
    assert {p.code for p in log.problems if p.line == 7} == {"not_a_count", "made_missing"}


def test_an_outcome_column_of_another_name(tmp_path: Path) -> None:
    """A process may call its yes/no outcome what it likes."""
    description = tmp_path / "solder.toml"
    description.write_text(
        'name = "solder"\ntitle = "Soldering"\nitem = "board"\n[steps.iron]\nlabel = "Iron"\n'
        '[parameters.tip_c]\nstep = "iron"\nrole = "setting"\nunit = "C"\n'
        '[parameters.cold]\nrole = "outcome"\nkind = "yes_no"\n'
        '[families.joint]\nlabel = "joints"\n[modes.sound]\nverdict = "good"\naliases = ["0"]\n'
        '[modes.cold_joint]\nverdict = "failed"\nfamily = "joint"\naliases = ["1", "yes"]\n'
    )
    path = tmp_path / "log.csv"
    path.write_text("tip_c,cold\n350,0\n300,1\n310,1.0\n320,\n")
    log = read_log(path, load_process(description))
    assert log.chips["mode"].tolist() == ["sound", "cold_joint", "cold_joint", "not_tested"]
    assert log.runs.failed["joint"].tolist() == [0, 1, 1, 0]
    assert list(log.runs.numbers.columns) == ["tip_c"]
