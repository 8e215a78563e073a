"""The order of the job: what the review itself decides."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from weakstep import load_process, read_log, review, write_report
from weakstep.reviewing import FEWEST_EXPECTED, FailureChart, _failure_chart
from weakstep.watching.freezing import freeze


def failures_by_week(folder: Path, failed: list[int], chips: int) -> FailureChart:
    """Return the failure chart of weeks with a run of *chips* each, *failed* of which failed."""
    first = np.datetime64("2026-01-05T09:00")
    rows = ["run_id,started_at,chips_made,chips_failed,delay_s"]
    for week, lost in enumerate(failed):
        when = str(first + np.timedelta64(7 * week, "D")).replace("T", " ")
        rows.append(f"R{week},{when},{chips},{lost},{40 + week % 7}")
    place = folder / "log.csv"
    place.write_text("\n".join(rows), encoding="utf-8")
    chart = _failure_chart(read_log(place, load_process()).runs)
    assert chart is not None
    return chart


def test_rare_failures_set_off_no_pattern(tmp_path: Path) -> None:
    """
    Two failures in thirty weeks: the weeks between lie below the centre, which means nothing.

    Cochran, W. G. (1954), Some methods for strengthening the common chi-square tests, Biometrics
    10, 417-451: below about 5 expected counts are far from normal (from memory).
    """
    found = failures_by_week(tmp_path, [1] + [0] * 14 + [1] + [0] * 14, 20)
    assert found.chart.limits.centre * 20 < FEWEST_EXPECTED
    assert {signal.pattern for signal in found.chart.signals} <= {"beyond_limit"}


def test_a_long_stay_on_one_side_signals_where_counts_allow(tmp_path: Path) -> None:
    """With 60 chips a week and 12 failures of them, nine weeks on one side still signal."""
    found = failures_by_week(tmp_path, [9, 10] * 8 + [14, 15] * 7, 60)
    assert found.chart.limits.centre * 60 >= FEWEST_EXPECTED
    assert "nine_one_side" in {signal.pattern for signal in found.chart.signals}


def test_a_log_of_measured_values_alone(tmp_path: Path) -> None:
    """Burst pressures without an outcome: the job runs to its page, which leads to them."""
    rng = np.random.default_rng(8)
    delay = rng.normal(50.0, 12.0, 60).round()
    burst = (220.0 - 2.0 * (delay - 50.0) + rng.normal(0.0, 12.0, 60)).round()
    rows = ["run_id,delay_s,burst_kpa"]
    rows += [f"R{i},{delay[i]:.0f},{burst[i]:.0f}" for i in range(60)]
    (tmp_path / "log.csv").write_text("\n".join(rows), encoding="utf-8")
    found = review(read_log(tmp_path / "log.csv", load_process()), permutations=199)
    assert (found.failures.factors, found.next_trial) == ((), None)
    page = write_report(found, tmp_path / "report", static=True).read_text(encoding="utf-8")
    assert "What low measured values are linked to stands" in page
    assert "60 chips were measured" in page


def one_outcome(folder: Path, outcome: str) -> Path:
    """Write a dated log of 40 runs of two chips that all have one outcome, or none."""
    rng = np.random.default_rng(8)
    lines = ["run_id,chip_id,started_at,delay_s,outcome"]
    for run in range(40):
        day = np.datetime64("2026-01-05") + run
        lines += [f"R{run},R{run}-{c},{day},{rng.normal(40, 4):.1f},{outcome}" for c in (1, 2)]
    path = folder / "log.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def test_a_log_in_which_every_chip_failed(tmp_path: Path) -> None:
    """It has a page; failures that cannot rise are not watched, the delay is."""
    result = review(read_log(one_outcome(tmp_path, "leak")), permutations=99)
    assert write_report(result, tmp_path / "report").is_file()
    frozen = freeze(result)
    assert "bond" not in [name for one in frozen.failures for name in one.families]
    assert "delay_s" in frozen.columns


def test_a_log_whose_outcomes_are_all_empty(tmp_path: Path) -> None:
    """It is reviewed without a warning, and no chip is counted."""
    result = review(read_log(one_outcome(tmp_path, "")), permutations=99)
    assert result.log.runs.tested.sum() == 0
    assert write_report(result, tmp_path / "report").is_file()


def test_what_goes_with_several_changes_is_against_the_first_level(tmp_path: Path) -> None:
    """
    The delay rises and falls back: only the runs between fail more, and their number is told.

    By counting, the middle third has about 40 * 2 * (0.5 - 0.1) = 32 failures more than the first
    would have; 4 standard errors of such a count are 18, and a curve smooths it further.
    """
    rng = np.random.default_rng(31)
    rows = ["run_id,delay_s,outcome"]
    for run in range(120):
        middle = 40 <= run < 80
        for _ in range(2):
            lost = rng.random() < (0.5 if middle else 0.1)
            delay = (90 if middle else 40) + run % 7
            rows.append(f"R{run:03d},{delay},{'no_bond' if lost else 'good'}")
    place = tmp_path / "log.csv"
    place.write_text("\n".join(rows), encoding="utf-8")
    found = review(read_log(place, load_process()), permutations=199)
    (drift,) = [one for one in found.drifts.drifts if one.column == "delay_s"]
    assert [change.since for change in drift.changes] == [40, 80]
    (matters,) = found.matters["delay_s"]
    assert matters.chips == 160
    assert matters.failures.estimate == pytest.approx(32, abs=18)
    assert matters.failures.lower < 32 < matters.failures.upper
