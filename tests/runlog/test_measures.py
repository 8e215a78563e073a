"""Values in another unit than their neighbours, and measured values in a column of names."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pytest

from weakstep.runlog.model import Problem, RunLog

ReadColumn = Callable[[str, Sequence[object]], RunLog]
TheProblem = Callable[[RunLog, str], Problem]


def test_bare_minutes_among_hours_are_asked_about(
    read_column: ReadColumn, the_problem: TheProblem
) -> None:
    """120 among hours near 2 is used as written, and asked about with the unit that would fit."""
    log = read_column("cure time", ["2 h", "2.5 h", "120", "2", "3"])
    problem = the_problem(log, "unit_in_doubt")
    assert (problem.line, problem.found, problem.severity) == (4, "120", "question")
    assert "Used as 120 h" in problem.message
    assert "in min it would lie among them" in problem.message


@pytest.mark.parametrize(
    "cells",
    [
        ["2 h", "2.5 h", "120 min", "2", "3"],  # the cell says its unit
        ["2", "2.5", "3", "2", "20"],  # far, but no unit brings it back
        ["2", "2", "3", "60", "120", "150"],  # half of the values: the column is like that
    ],
)
def test_values_that_nothing_puts_in_doubt(read_column: ReadColumn, cells: list[str]) -> None:
    """A unit in the cell, a plain outlier and a column of two kinds are left alone."""
    codes = [problem.code for problem in read_column("cure time", cells).problems]
    assert "unit_in_doubt" not in codes


def test_seconds_under_the_name_of_a_machine(
    read_column: ReadColumn, the_problem: TheProblem
) -> None:
    """'Plasma' is a machine in one lab and the time of the glow in another."""
    log = read_column("Plasma", ["35 s", "0.6 min", "40", "38"])
    problem = the_problem(log, "measures_for_names")
    assert (problem.column, problem.severity) == ("Plasma", "question")
    assert "has names, but holds measured values in s" in problem.message


@pytest.mark.parametrize("names", [["P1", "P2", "P1"], ["1", "2", "1"], ["3 C", "3 F", "4 C"]])
def test_names_with_numbers_stay_names(read_column: ReadColumn, names: list[str]) -> None:
    """Numbers and letters after them are names, too."""
    codes = [problem.code for problem in read_column("Plasma", names).problems]
    assert "measures_for_names" not in codes
