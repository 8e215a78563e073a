"""Whole logs: bad input, several files, columns, duplicates, order, what is set aside."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from weakstep.errors import LogError
from weakstep.process.model import Process
from weakstep.runlog.model import Problem, RunLog
from weakstep.runlog.read import read_log

ReadText = Callable[..., RunLog]
TheProblem = Callable[[RunLog, str], Problem]
Codes = Callable[[RunLog], list[str]]

SIX = "chip_id,run_id,started_at,operator,delay_s,outcome\n" + "".join(
    f"C{i},R{i // 2},2026-03-{2 + i // 2:02d},OP1,{30 + i},{word}\n"
    for i, word in enumerate(["good", "leak", "ok", "OK", "no bond", "good"])
)


# ------------------------------------------------------------------ bad input


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
        (b"delay\x81,outcome\n", r"log\.csv: is not readable text"),
        (b"PK\x03\x04 zipped", r"log\.csv: is a workbook, not text"),
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
    with pytest.raises(LogError, match=r"the folder holds no \.csv or \.tsv file"):
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


def test_a_bad_file_among_good_ones_is_left_out(tmp_path: Path, process: Process) -> None:
    """The others are read."""
    (tmp_path / "a.csv").write_text(SIX)
    (tmp_path / "b.csv").write_bytes(b"\x00\x01\x02")
    log = read_log(tmp_path, process)
    assert log.rows_read == 6
    assert (log.problems[0].file, log.problems[0].code) == ("b.csv", "unusable_file")
    assert [file.file for file in log.inputs] == ["a.csv"]


# ------------------------------------------------------------------ encodings and tables


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"]
)
def test_encodings(read_text: ReadText, codes: Codes, encoding: str) -> None:
    """UTF-8 and UTF-16 with or without mark, and CP1252, which is told."""
    text = "run;Ofentemperatur (°C);Verzögerung [s];Ergebnis\nR1;70,5;30;dicht\nR2;71;31;undicht\n"
    log = read_text(text.encode(encoding))
    assert log.chips["cure_c"].tolist() == [70.5, 71.0]
    assert log.chips["mode"].tolist() == ["good", "leak"]
    assert codes(log) == []
    assert ("encoding" in [p.code for p in log.problems]) == (encoding == "cp1252")


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
def test_delimiters_and_line_ends(read_text: ReadText, delimiter: str, newline: str) -> None:
    """Sniffed; quoted cells may hold the delimiter and line ends, and lines are still counted."""
    rows = [
        ["run_id", "delay_s", "notes", "outcome"],
        ["R1", "30", f'"one{delimiter} two{newline}three"', "good"],
        ["R2", "odd", '"said ""no"""', "leak"],
    ]
    log = read_text(newline.join(delimiter.join(row) for row in rows))
    assert log.chips["line"].tolist() == [2, 4]
    assert log.chips["notes"].tolist() == [
        " ".join(f"one{delimiter} two three".split()),
        'said "no"',
    ]
    assert [(p.line, p.code) for p in log.problems] == [(4, "not_a_number")]


def test_a_quote_that_is_never_closed(read_text: ReadText, the_problem: TheProblem) -> None:
    """A ditto mark typed as a bare quote does not swallow the rest of the file."""
    log = read_text('run_id,delay_s,cure_c,outcome\nR1,30,70,good\nR2,31,",leak\nR3,32,71,good\n')
    assert the_problem(log, "open_quote").line == 3
    assert log.chips["cure_c"].tolist() == [70.0, 70.0, 71.0]
    assert log.chips["mode"].tolist() == ["good", "leak", "good"]


def test_lines_above_the_header_and_units_below_it(read_text: ReadText) -> None:
    """A title is left out, a line of units is used, both are told."""
    text = "Spring log of the bench,,,\n\nrun,delay,oven,outcome\n,min,°F,\nR1,0.5,150,good\n"
    log = read_text(text)
    assert log.chips["delay_s"].tolist() == [30.0]
    assert log.chips["cure_c"][0] == pytest.approx(65.556, abs=1e-3)
    assert {(p.line, p.code, p.severity) for p in log.problems} >= {
        (1, "above_header", "note"),
        (4, "units_line", "note"),
    }


def test_rows_that_do_not_fit_are_set_aside(read_text: ReadText) -> None:
    """Too many cells, the header again, a remark: kept as text with their reason."""
    log = read_text(
        "run_id,delay_s,cure_c,outcome\nR1,30,70,good\nR2,30,70,good,extra\n"
        "run_id,delay_s,cure_c,outcome\nmoved to room 4,,,\nR3,31,70\n"
    )
    assert log.rows_read == 5
    assert log.chips["run"].tolist() == ["R1", "R3"]
    assert log.set_aside["line"].tolist() == [3, 4, 5]
    assert log.set_aside["run_id"].tolist() == ["R2", "run_id", "moved to room 4"]
    assert log.set_aside["column 5"].tolist()[0] == "extra"
    assert log.problems[0].severity == "set_aside"


# ------------------------------------------------------------------ columns


def test_headers_and_units(read_text: ReadText, codes: Codes) -> None:
    """Names, aliases, units in brackets or behind the word, units of another size."""
    log = read_text(
        "Run No.,Plasma (s),Cure (h),Cure [°F],bake in h,delay_min,Pressure / mTorr,"
        "vacuum (mbar abs),Room,humidity (%),Mould (which),outcome\n"
        "R1,30,2,158,0.5,2,450,80,21,40,M1,good\n"
    )
    chips = log.chips.iloc[0]
    assert chips["plasma_s"] == 30.0
    assert (chips["cure_h"], chips["cure_c"]) == (2.0, pytest.approx(70.0))
    assert (chips["bake_min"], chips["delay_s"]) == (30.0, 120.0)
    assert chips["pressure_pa"] == pytest.approx(59.995, abs=1e-3)
    assert (chips["vacuum_kpa"], chips["room_c"], chips["rh_pct"]) == (8.0, 21.0, 40.0)
    assert chips["mould_id"] == "M1"
    assert codes(log) == []
    how = {match.parameter: (match.unit_read, match.how) for match in log.columns}
    assert how["delay_s"] == ("min", "unit in the header, converted from min to s")
    assert how["mould_id"] == ("", "words in brackets left out")


def test_unknown_headers_are_asked_about_and_not_taken(read_text: ReadText) -> None:
    """A near miss is offered, never used; a stranger is noted; a second column is left alone."""
    log = read_text("run_id,dellay_s,sticker,delay,wait,delay_s,outcome\nR1,1,red,2,3,4,good\n")
    told = {p.column: (p.code, p.severity) for p in log.problems if p.column}
    assert told == {
        "dellay_s": ("unknown_column", "question"),
        "sticker": ("unknown_column", "note"),
        "delay_s": ("repeated_column", "question"),
    }
    assert log.chips["delay_s"].tolist() == [2.0]
    match = {m.header: m.parameter for m in log.columns}
    assert match["dellay_s"] is None


def test_several_files_each_with_its_own_ways(tmp_path: Path, process: Process) -> None:
    """Columns in another order, another delimiter, another decimal mark; a glob finds them."""
    (tmp_path / "a.csv").write_text("run_id,cure_c,outcome\nR1,70.5,good\n")
    (tmp_path / "b.csv").write_text("Ergebnis;Lauf;oven (°C)\nundicht;R2;71,5\n")
    log = read_log(str(tmp_path / "[ab].csv"), process)
    assert log.chips["cure_c"].tolist() == [70.5, 71.5]
    assert log.chips["mode"].tolist() == ["good", "leak"]
    assert [file.rows for file in log.inputs] == [1, 1]
    assert all(len(file.sha256) == 64 for file in log.inputs)


def test_files_of_one_name_are_told_apart(tmp_path: Path, process: Process) -> None:
    """By their folders."""
    for folder, run in (("x", "R1"), ("y", "R2")):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "log.csv").write_text(f"run_id,delay_s,outcome\n{run},30,good\n")
    log = read_log([tmp_path / "x" / "log.csv", tmp_path / "y"], process)
    assert [Path(file.file).parent.name for file in log.inputs] == ["x", "y"]


# ------------------------------------------------------------------ duplicates and copies


def test_the_same_file_twice(tmp_path: Path, process: Process) -> None:
    """A copy under another name counts once; the same path twice is read once."""
    for name in ("a.csv", "b.csv"):
        (tmp_path / name).write_text(SIX)
    log = read_log([tmp_path / "a.csv", tmp_path / "b.csv", tmp_path / "a.csv"], process)
    assert (log.rows_read, len(log.chips), len(log.set_aside)) == (12, 6, 6)
    assert [p.code for p in log.problems if p.severity == "set_aside"] == ["same_file_twice"]


def test_repeated_rows_count_once(tmp_path: Path, process: Process) -> None:
    """Also when the other file writes them in another way."""
    (tmp_path / "a.csv").write_text(SIX + "C0,R0,2026-03-02,OP1,30,good\n")
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


@pytest.mark.parametrize(("time", "delay"), [("2026-03-02 15:00", 45), ("2026-03-02 14:00", 46)])
def test_one_cell_of_difference_is_no_copy(
    read_text: ReadText, codes: Codes, time: str, delay: int
) -> None:
    """Routine runs are alike; that is no reason to ask."""
    assert codes(read_text(WIDE.format(time=time, delay=delay))) == []


# ------------------------------------------------------------------ outcomes and counts


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
    read_text: ReadText, the_problem: TheProblem
) -> None:
    """Only those that are not the mode's own name."""
    problem = the_problem(read_text(SIX), "outcome_words")
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
    from weakstep.process.load import load_process

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


# ------------------------------------------------------------------ checks


def test_implausible_cells_count_as_missing(read_text: ReadText, the_problem: TheProblem) -> None:
    """Both ends of a range belong to it; the sentence says where, what was found, what to do."""
    log = read_text("run_id,rh_pct,outcome\nR1,0,good\nR2,1,good\nR3,100,good\n")
    problem = the_problem(log, "out_of_range")
    assert str(problem) == (
        "log.csv:2: column 'rh_pct': found '0'. Outside the plausible range 1 to 100 %; "
        "the cell counts as missing. Correct the cell; or, if the value is real, widen the range "
        "in the description."
    )
    assert np.array_equal(log.chips["rh_pct"], [np.nan, 1.0, 100.0], equal_nan=True)


def test_a_gauge_pressure_is_explained(read_text: ReadText, the_problem: TheProblem) -> None:
    """Below zero it can only be a gauge reading; it is not converted by guess."""
    problem = the_problem(read_text("run_id,vacuum_kpa,outcome\nR1,-80,good\n"), "out_of_range")
    assert "gauge reading: log the absolute pressure" in problem.action


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


# ------------------------------------------------------------------ runs


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
