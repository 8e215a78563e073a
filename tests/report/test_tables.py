"""CSV tables: whole, readable, and inert in a spreadsheet."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from weakstep import load_process, read_log
from weakstep import review as review_log
from weakstep.report.tables import cell, tables
from weakstep.reviewing import Review
from weakstep.semesters.history import history_of
from weakstep.semesters.model import Change


def rows(text: str) -> list[dict[str, str]]:
    """Return a CSV text as dictionaries."""
    return list(csv.DictReader(io.StringIO(text)))


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_formulas_are_neutralised(start: str) -> None:
    """Text that a spreadsheet would run gets a quote mark in front."""
    assert cell(f"{start}cmd") == f"'{start}cmd"


@pytest.mark.parametrize("value", [-3.5, -2])
def test_negative_numbers_stay_numbers(value: float) -> None:
    """A number that begins with a minus sign is no formula."""
    assert cell(value) == str(value)


def test_no_risky_cell_in_any_table(invented: ModuleType) -> None:
    """With a formula in every text cell, no cell of any table begins like one."""
    for name, text in tables(invented.build_review(text='=HYPERLINK("x")')).items():
        cells = [value for row in csv.reader(io.StringIO(text)) for value in row]
        assert not [value for value in cells if value.startswith(("=", "@", "+"))], name
    assert "'=HYPERLINK" in tables(invented.build_review(text='=HYPERLINK("x")'))["set_aside.csv"]


def test_tables_hold_every_row(review: Review) -> None:
    """Each table has one row per item of the review, and all the tables are there."""
    found = tables(review)
    assert sorted(found) == [
        "set_aside.csv",
        "tables/cells_read_with_care.csv",
        "tables/columns.csv",
        "tables/drifts.csv",
        "tables/factors.csv",
        "tables/problems.csv",
        "tables/rows_used.csv",
        "tables/runs.csv",
        "tables/signals.csv",
        "tables/steps.csv",
    ]
    assert len(rows(found["tables/factors.csv"])) == len(review.failures.factors)
    assert len(rows(found["tables/runs.csv"])) == len(review.log.runs)
    assert len(rows(found["tables/rows_used.csv"])) == len(review.log.chips)
    assert len(rows(found["tables/problems.csv"])) == len(review.log.problems)
    assert len(rows(found["tables/columns.csv"])) == len(review.log.columns)
    assert len(rows(found["set_aside.csv"])) == len(review.log.set_aside)
    charts = [chart for pair in review.charts.values() for chart in pair]
    signals = sum(len(chart.signals) for chart in charts)
    assert len(rows(found["tables/signals.csv"])) == signals > 0


def test_history_has_tables_of_its_own(review: Review) -> None:
    """Two semesters and two changes: a row for each, with the figures of the history."""
    runs = review.log.runs
    half = np.arange(len(runs)) >= len(runs) // 2
    later = runs.started_at + np.where(half, np.timedelta64(200, "D"), np.timedelta64(0, "D"))
    log = replace(review.log, runs=replace(runs, started_at=later))
    first = later[np.flatnonzero(half)[0]].astype("datetime64[D]")
    empty = {"column": None, "step": None, "family": None, "window": None, "from_review": None}
    changes = [
        Change(first, "=SUM(1)", **empty, place="changes.csv:2"),
        Change(first + np.timedelta64(5000, "D"), "too late", **empty, place="changes.csv:3"),
    ]
    history = history_of(log, changes)
    assert history is not None
    found = tables(replace(review, history=history))
    by_semester = rows(found["tables/semesters.csv"])
    assert len(by_semester) == 2 * len(history.trends)
    assert sum(int(row["failed"]) for row in by_semester if row["family"] == "all") == sum(
        counts.sum() for counts in runs.failed.values()
    )
    assert [float(row["p"]) for row in rows(found["tables/trends.csv"])] == [
        trend.luck for trend in history.trends
    ]
    made, late = rows(found["tables/changes.csv"])
    rate = history.changes[0].rate
    assert rate is not None
    assert made["change"] == "'=SUM(1)"
    assert float(made["difference"]) == rate.difference.estimate
    assert int(made["runs_since"]) == int((half & (runs.tested > 0)).sum())
    assert late["difference"] == ""
    assert late["why_not"].startswith("the log ends on")


def test_runs_keep_their_values(review: Review) -> None:
    """Values come back as the numbers they were, and a missing one as an empty cell."""
    first = rows(tables(review)["tables/runs.csv"])
    humidity = review.log.runs.numbers["rh_pct"].to_numpy()
    assert float(first[0]["rh_pct"]) == humidity[0]
    assert first[3]["rh_pct"] == ""
    assert first[0]["started_at"].startswith("2026-03-")


def test_rows_set_aside_keep_their_cells(tmp_path: Path) -> None:
    """With file, line and reason in front, cells as found, and no formula among them."""
    file = tmp_path / "log.csv"
    file.write_text(
        'chip_id,delay_s,outcome,line\n=1+1,30,ok,7\n=1+1,30,ok,7\nC2,"1,5 min","a, b",7,x\n'
        "C3,-5,good,7\n",
        encoding="utf-8",
    )
    log = read_log(file, load_process())
    found = tables(review_log(log, permutations=49))["set_aside.csv"]
    header = found.splitlines()[0].split(",")
    assert header[:3] == ["file", "line", "reason"]
    same, odd = rows(found)
    assert (same["line"], odd["line"]) == ("3", "4")
    assert same["reason"] == "the same row is there already"
    assert same["chip_id"] == "'=1+1"
    assert (odd["delay_s"], odd["outcome"], odd["cell of line"]) == ("1,5 min", "a, b", "7")


def test_numbers_written_as_text_stay_numbers() -> None:
    """As in the list of problems: a sign before a number starts no formula."""
    assert cell("-5") == "-5"
    assert cell("+1.5e3") == "+1.5e3"
    assert cell("-5 to 3") == "'-5 to 3"
