"""Cells such as "<1 min" are censored: neither that number nor nothing."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from weakstep.runlog.clean import write_clean
from weakstep.runlog.listing import check_json, problems_text
from weakstep.runlog.model import RunLog
from weakstep.runlog.read import read_log

TEXT = (
    "chip,delay (s),burst (kPa),RH %,outcome\n"
    "C1,<1 min,> 300,40,good\n"
    "C2,30,250,\u2265 60,leak\n"
    "C3,5+ min,at least 3 bar,41,good\n"
    "C4,< soon,200,40,leak\n"
)


def test_bounds_are_kept_with_their_side(read_text: Callable[..., RunLog]) -> None:
    """The number in the column's unit, and on which side of it the value lies."""
    log = read_text(TEXT)
    assert [(one.line, one.parameter, one.side, one.value, one.found) for one in log.bounds] == [
        (2, "delay_s", "below", 60.0, "<1 min"),
        (2, "burst_kpa", "above", 300.0, "> 300"),
        (3, "rh_pct", "above", 60.0, "\u2265 60"),
        (4, "delay_s", "above", 300.0, "5+ min"),
        (4, "burst_kpa", "above", 300.0, "at least 3 bar"),
    ]


def test_a_bound_is_no_number_where_numbers_are_needed(read_text: Callable[..., RunLog]) -> None:
    """Charts and tables see a gap; "< soon" bounds nothing."""
    log = read_text(TEXT)
    delay = log.chips["delay_s"].to_numpy()
    assert np.isnan(delay).tolist() == [True, False, True, True]
    nan = pytest.approx(np.nan, nan_ok=True)
    assert log.bounds_of("delay_s", "below").tolist() == [60.0, nan, nan, nan]
    assert log.bounds_of("burst_kpa", "above").tolist() == [300.0, nan, 300.0, nan]
    assert [p.found for p in log.problems if p.code == "not_a_number"] == ["< soon"]


def test_check_says_what_is_known(read_text: Callable[..., RunLog]) -> None:
    """The list of problems and the careful readings name side and number."""
    log = read_text(TEXT)
    assert "found '<1 min'. The value is only known to be below 60 s" in problems_text(log)
    assert "below 60 s" in check_json(log)
    shown = {one.found: one.taken_as for one in log.care}
    assert shown["<1 min"] == "below 60 s"


def test_a_corrected_copy_keeps_the_bound(read_text: Callable[..., RunLog], tmp_path: Path) -> None:
    """Read again, the copy says the same and asks nothing."""
    log = read_text(TEXT)
    copy = read_log(write_clean(log, tmp_path / "clean.csv"), log.process)
    assert [problem for problem in copy.problems if problem.severity != "note"] == []
    assert [(b.parameter, b.side, b.value) for b in copy.bounds] == [
        (b.parameter, b.side, b.value) for b in log.bounds
    ]
