"""Encodings, delimiters, quotes, lines above the header, rows that do not fit it."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from weakstep.runlog.model import Problem, RunLog

ReadText = Callable[..., RunLog]
TheProblem = Callable[[RunLog, str], Problem]
Codes = Callable[[RunLog], list[str]]


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
