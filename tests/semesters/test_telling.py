"""Semesters from a column, from folders, from gaps between days."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from weakstep.runlog.model import RunLog
from weakstep.runlog.read import read_log
from weakstep.semesters.telling import months_words, semesters_of, tell_semesters

Build = Callable[..., RunLog]
HEAD = "run,chip,date,delay (s),outcome\n"


def days(*stretches: tuple[str, int, int]) -> np.ndarray:
    """Return days from (first, count, every so many days) one after the other."""
    return np.concatenate(
        [np.datetime64(first, "D") + every * np.arange(count) for first, count, every in stretches]
    )


def rows(prefix: str, moments: np.ndarray, column: str = "") -> str:
    """Return log lines, one chip a run."""
    return "".join(
        f"{prefix}{i},{prefix}{i}-1,{day},{30 + i},good{column}\n" for i, day in enumerate(moments)
    )


def test_a_gap_of_a_month_ends_a_semester() -> None:
    """Twenty run days, ten weeks of nothing, fifteen run days."""
    found = semesters_of(days(("2025-09-15", 20, 3), ("2026-02-02", 15, 4)))
    assert found.tolist() == [0] * 20 + [1] * 15


def test_a_holiday_within_a_semester_does_not() -> None:
    """Two weeks and a half without a run are a holiday."""
    assert semesters_of(days(("2026-03-02", 20, 2), ("2026-04-27", 20, 2))).max() == 0


def test_a_log_with_a_run_a_month_is_one_semester() -> None:
    """Where a month between runs is usual, a month is no gap."""
    assert semesters_of(days(("2024-01-08", 24, 30))).max() == 0
    assert semesters_of(days(("2024-01-08", 12, 30), ("2025-09-01", 12, 30))).max() == 1


@pytest.mark.parametrize("count", [0, 1, 3])
def test_few_or_no_days(count: int) -> None:
    """No day: no semester; one day or three: one."""
    assert semesters_of(np.full(4, np.datetime64("NaT", "D"))).tolist() == [-1] * 4
    found = semesters_of(days(("2026-03-02", count, 7)))
    assert found.tolist() == [0] * count


@given(st.lists(st.integers(0, 900), min_size=1, max_size=40))
def test_semesters_never_go_back(offsets: list[int]) -> None:
    """Places rise by at most one along the log and begin at 0."""
    found = semesters_of(np.datetime64("2024-01-01") + np.sort(np.array(offsets)))
    assert found[0] == 0
    assert set(np.diff(found).tolist()) <= {0, 1}


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [
        ("2026-03-02", "2026-03-30", "March 2026"),
        ("2025-10-06", "2026-02-06", "October 2025 to February 2026"),
        ("2026-09-14", "2026-12-18", "September to December 2026"),
    ],
)
def test_names_from_months(first: str, last: str, said: str) -> None:
    """A semester without a name is called by its months."""
    assert months_words(np.datetime64(first), np.datetime64(last)) == said


def test_the_column_decides(tmp_path: Path) -> None:
    """A `term` column wins over gaps; semesters stand in order of time, not of the file."""
    head = HEAD.replace("outcome", "outcome,term")
    moments = days(("2026-03-02", 6, 1))
    text = rows("B", moments + 60, ",late") + rows("A", moments, ",early") + "C1,C1-1,,31,good,\n"
    (tmp_path / "log.csv").write_text(head + text, encoding="utf-8")
    told = tell_semesters(read_log(tmp_path))
    assert told.names == ("early", "late")
    assert told.by == "the column 'semester'"
    assert sorted(told.of_run.tolist()) == [-1] + [0] * 6 + [1] * 6


def test_folders_are_semesters_unless_they_overlap(tmp_path: Path) -> None:
    """Two folders one after the other, close in time; then two benches at the same time."""
    for name, first in (("one", "2026-03-02"), ("two", "2026-03-16"), ("bench", "2026-03-05")):
        (tmp_path / name).mkdir()
        text = HEAD + rows(name, days((first, 6, 1)))
        (tmp_path / name / "log.csv").write_text(text, encoding="utf-8")
    told = tell_semesters(read_log([tmp_path / "two", tmp_path / "one"]))
    assert told.names == ("one", "two")
    assert told.of_run.tolist() == [0] * 6 + [1] * 6
    assert tell_semesters(read_log([tmp_path / "one", tmp_path / "bench"])).names == ("March 2026",)


def test_without_dates_there_is_nothing_to_tell(log_of: Build) -> None:
    """No date, no folder, no column: no semester has a name."""
    log = log_of({"heat": np.arange(5.0)}, {"bond": np.zeros(5, dtype=int)}, np.ones(5, dtype=int))
    told = tell_semesters(log)
    assert told.names == ()
    assert told.of_run.tolist() == [-1] * 5


def test_two_stretches_of_the_same_months_get_their_first_day(log_of: Build) -> None:
    """Two days of early March, four weeks of nothing, two of late March: names stay different."""
    log = log_of({"heat": np.arange(4.0)}, {"bond": np.zeros(4, dtype=int)}, np.ones(4, dtype=int))
    moments = np.array(["2026-03-01", "2026-03-02", "2026-03-30", "2026-03-31"], "datetime64[ns]")
    log = replace(log, runs=replace(log.runs, started_at=moments))
    assert tell_semesters(log).names == (
        "March 2026 (from 2026-03-01)",
        "March 2026 (from 2026-03-30)",
    )
