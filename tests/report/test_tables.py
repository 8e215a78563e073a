"""CSV tables: whole, readable, and inert in a spreadsheet."""

from __future__ import annotations

import csv
import io
from types import ModuleType

import pytest

from weakstep.report.tables import cell, tables
from weakstep.reviewing import Review


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


def test_runs_keep_their_values(review: Review) -> None:
    """Values come back as the numbers they were, and a missing one as an empty cell."""
    first = rows(tables(review)["tables/runs.csv"])
    humidity = review.log.runs.numbers["rh_pct"].to_numpy()
    assert float(first[0]["rh_pct"]) == humidity[0]
    assert first[3]["rh_pct"] == ""
    assert first[0]["started_at"].startswith("2026-03-")
