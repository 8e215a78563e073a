"""Dates in many writings; the order of day and month is decided by the evidence of the file."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import pandas as pd
import pytest

from weakstep.runlog.dates import day_order, moment_of, read_date
from weakstep.runlog.model import Problem, RunLog

ReadText = Callable[..., RunLog]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2026-03-04", datetime(2026, 3, 4)),
        ("2026-03-04 14:05", datetime(2026, 3, 4, 14, 5)),
        ("2026-03-04T14:05:30", datetime(2026, 3, 4, 14, 5, 30)),
        ("2026-03-04T14:05:30Z", datetime(2026, 3, 4, 14, 5, 30)),
        ("2026/3/4", datetime(2026, 3, 4)),
        ("20260304", datetime(2026, 3, 4)),
        ("4.3.2026", datetime(2026, 3, 4)),
        ("04.03.26 14:05", datetime(2026, 3, 4, 14, 5)),
        ("25/03/2026", datetime(2026, 3, 25)),
        ("03/25/2026 2:05 pm", datetime(2026, 3, 25, 14, 5)),
        ("3/25/26 12:05 AM", datetime(2026, 3, 25, 0, 5)),
        ("4 Mar 2026", datetime(2026, 3, 4)),
        ("4. März 2026 14:05 Uhr", datetime(2026, 3, 4, 14, 5)),
        ("Mar 4, 2026", datetime(2026, 3, 4)),
        ("Wed 4 March 2026", datetime(2026, 3, 4)),
        ("4-Mar-26", datetime(2026, 3, 4)),
        ("46085", datetime(2026, 3, 4)),
        ("46085.5", datetime(2026, 3, 4, 12)),
    ],
)
def test_writings_of_a_date(text: str, expected: datetime) -> None:
    """Each is read as the same moment in both orders, or possible in one order only."""
    cell = read_date(text)
    assert cell is not None
    assert not cell.undecided
    assert moment_of(cell, "day first") == expected


@pytest.mark.parametrize(
    "text", ["14:05", "yesterday", "2026-13-01", "31/02/2026", "45/45/2026", "4 Foo 2026", "12", ""]
)
def test_what_is_no_date(text: str) -> None:
    """No date is made up."""
    assert read_date(text) is None


def test_evidence_for_the_order() -> None:
    """A date possible in one order only decides; else the rows' own order; else day first."""
    clear = [read_date(text) for text in ("03/04/2026", "25/04/2026")]
    assert day_order(clear) == ("day first", "dates")
    american = [read_date(text) for text in ("03/04/2026", "04/25/2026")]
    assert day_order(american) == ("month first", "dates")
    in_time = [read_date(text) for text in ("03/04/2026", "03/05/2026", "04/01/2026")]
    assert day_order(in_time) == ("month first", "order")
    assert day_order([read_date("03/04/2026")]) == ("day first", "none")


def rows(*dates: str) -> str:
    """Write a log with one row per date."""
    return "started_at,delay_s,outcome\n" + "".join(f"{date},30,good\n" for date in dates)


def test_a_file_with_evidence_raises_no_question(
    read_text: ReadText, codes: Callable[[RunLog], list[str]]
) -> None:
    """25/03 shows that 03/04 is the third of April."""
    log = read_text(rows("25/03/2026", "03/04/2026"))
    assert codes(log) == []
    assert log.chips["started_at"].tolist() == [pd.Timestamp(2026, 3, 25), pd.Timestamp(2026, 4, 3)]


def test_a_file_without_evidence_is_asked_about(
    read_text: ReadText, the_problem: Callable[[RunLog, str], Problem]
) -> None:
    """The order that keeps the rows in time is taken, and said."""
    log = read_text(rows("03/04/2026", "03/05/2026", "04/01/2026"))
    problem = the_problem(log, "unclear_date_order")
    assert problem.severity == "question"
    assert "month first, so the rows follow each other in time" in problem.message
    assert [care.taken_as for care in log.care] == [
        "2026-03-04 00:00",
        "2026-03-05 00:00",
        "2026-04-01 00:00",
    ]
    undecided = the_problem(read_text(rows("03/04/2026"), "other.csv"), "unclear_date_order")
    assert "day first, although the file does not show which it is" in undecided.message


def test_a_mistyped_year_does_not_turn_the_order_around(
    read_text: ReadText, the_problem: Callable[[RunLog, str], Problem]
) -> None:
    """One date of 40 lies a year before all others: missing, told, and its row stays in place."""
    days = [f"2026-03-{1 + i // 2:02d}" for i in range(40)]
    days[20] = "2025-03-11"
    log = read_text(rows(*days))
    problem = the_problem(log, "far_date")
    assert (problem.line, problem.severity, problem.found) == (22, "cell_missing", "2025-03-11")
    assert log.chips["line"].tolist() == list(range(2, 42))
    assert log.runs.week.max() == 3


def test_a_log_with_a_long_break_is_no_mistake(
    read_text: ReadText, codes: Callable[[RunLog], list[str]]
) -> None:
    """Many dates on both sides of the gap; or too few dates to say."""
    many = [f"{year}-03-{1 + i:02d}" for year in (2024, 2026) for i in range(20)]
    assert codes(read_text(rows(*many))) == []
    assert codes(read_text(rows("2024-03-01", "2026-03-01", "2026-03-02"), "few.csv")) == []


def test_both_orders_in_one_file(
    read_text: ReadText, the_problem: Callable[[RunLog, str], Problem]
) -> None:
    """The odd one out is read the only way it can be, and asked about."""
    log = read_text(rows("25/03/2026", "26/03/2026", "03/27/2026", "28/03/2026"))
    assert the_problem(log, "mixed_date_order").line == 4
    assert log.runs.started_at[2] == pd.Timestamp(2026, 3, 27).to_datetime64()


def test_time_of_day_without_date_is_missing(
    read_text: ReadText, the_problem: Callable[[RunLog, str], Problem]
) -> None:
    """Nothing is assumed about the day."""
    log = read_text(rows("2026-03-04", "23:50", "whenever"))
    messages = {p.line: p.message for p in log.problems if p.code == "not_a_date"}
    assert messages == {
        3: "A time of day without its date; the cell counts as missing.",
        4: "Expected a date; the cell counts as missing.",
    }
    assert pd.isna(log.chips["started_at"][1])


def test_date_and_time_in_two_columns(read_text: ReadText) -> None:
    """They are put together."""
    log = read_text("date,time,delay_s,outcome\n2026-03-04,14:05,30,ok\n2026-03-05,,31,ok\n")
    assert log.chips["started_at"].tolist() == [
        pd.Timestamp(2026, 3, 4, 14, 5),
        pd.Timestamp(2026, 3, 5),
    ]
    assert not [p for p in log.problems if p.code in ("repeated_column", "unknown_column")]


def test_a_missing_year_is_that_of_the_other_dates(read_text: ReadText) -> None:
    """When they agree on one; and it is told."""
    log = read_text(rows("4 Mar 2026", "5 Mar", '"'))
    assert [care.why for care in log.care] == [
        "the year is that of the other dates",
        "same as the row above",
    ]
    assert log.chips["started_at"].tolist()[1:] == [pd.Timestamp(2026, 3, 5)] * 2
