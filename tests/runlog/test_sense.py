"""Patterns over many cells: heaped digits, gaps, zeros, counts, names of persons."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pytest

from weakstep.runlog.model import Problem, RunLog

ReadColumn = Callable[[str, Sequence[object]], RunLog]
ReadText = Callable[..., RunLog]
TheProblem = Callable[[RunLog, str], Problem]


def test_heaped_digits_are_told_and_even_ones_are_not(
    read_column: ReadColumn, the_problem: TheProblem
) -> None:
    """Values written from memory end in 0 and 5; read from a clock they end in anything."""
    rng = np.random.default_rng(7)
    exact = rng.integers(10, 120, 60)
    rounded = read_column("delay_s", (np.round(exact / 5) * 5).astype(int).tolist())
    problem = the_problem(rounded, "heaped_digits")
    assert problem.severity == "note"
    assert "100 % of the values end in 0 or 5, by chance 20 % would" in problem.message
    even = read_column("delay_s", exact.tolist())
    assert "heaped_digits" not in [p.code for p in even.problems]


def test_a_long_gap_is_told(read_column: ReadColumn, the_problem: TheProblem) -> None:
    """The longest stretch of empty cells in a column that is mostly filled."""
    cells: list[object] = [40 + i % 7 for i in range(40)]
    cells[12:24] = [""] * 12
    problem = the_problem(read_column("rh_pct", cells), "long_gap")
    assert (problem.line, problem.severity) == (14, "note")
    assert "from line 14 to line 25, 12 rows on end" in problem.message


@pytest.mark.parametrize(
    ("zeros", "lowest", "asked"), [(4, 30, True), (4, 1, False), (2, 30, False)]
)
def test_zeros_far_from_all_others_are_asked_about(
    read_column: ReadColumn, zeros: int, lowest: int, asked: bool
) -> None:
    """A bake of 0 min among bakes of 30 and more may be a bake nobody wrote down."""
    cells: list[object] = [0] * zeros + [lowest] + [30 + i for i in range(12)]
    codes = [p.code for p in read_column("bake_min", cells).problems]
    assert ("zero_or_missing" in codes) == asked


def test_chips_of_a_run_counted_in_every_row(read_text: ReadText, the_problem: TheProblem) -> None:
    """'4/6 ok' beside each of the chips would count them six times."""
    log = read_text("run_id,mould,outcome\nR1,M1,4/6 ok\nR1,M2,4/6 ok\nR2,M1,2/6 leak\n")
    problem = the_problem(log, "run_counted_again")
    assert (problem.line, problem.found) == (2, "R1")


def test_names_of_one_person_are_pointed_out_and_kept_apart(read_text: ReadText) -> None:
    """Short forms and initials are asked about once each; codes with digits never."""
    names = ["Nora Falk", "Nora Falk", "NF", "nora", "OP1", "OP2", "Ben"]
    rows = "".join(f"C{i},{name},ok\n" for i, name in enumerate(names))
    log = read_text("chip_id,operator,outcome\n" + rows)
    asked = [p.found for p in log.problems if p.code == "two_spellings"]
    assert asked == ["NF", "nora"]
    assert set(log.chips["operator"]) == set(names)


@pytest.mark.parametrize(
    ("cell", "seconds", "past"),
    [
        ("23:50-00:20", 1800.0, True),
        ("9:05 → 9:07", 120.0, False),
        ("14.10 bis 14.25", 900.0, False),
    ],
)
def test_a_span_of_clock_times_is_the_time_between(
    read_column: ReadColumn, cell: str, seconds: float, past: bool
) -> None:
    """Also past midnight, and always listed."""
    log = read_column("delay_s", [cell])
    assert log.chips["delay_s"].tolist() == [seconds]
    assert ("past midnight" in log.care[0].why) == past


def test_totals_below_the_rows_are_no_rows(read_text: ReadText) -> None:
    """A sum or a mean is set aside wherever it stands."""
    log = read_text(
        "chip_id,delay_s,cure_c,bake_min,outcome\nC1,30,70,10,ok\nTotal,30,,10,\nC2,40,70,20,ok\n"
        "Mittelwert:,35,70,15,\n"
    )
    assert log.chips["chip_id"].tolist() == ["C1", "C2"]
    assert log.set_aside["line"].tolist() == [3, 5]
