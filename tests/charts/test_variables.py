"""Individuals and moving-range charts: gaps, scales, notes, refusals, properties."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from weakstep.charts.single_values import moving_range_freedom
from weakstep.charts.variables import individuals
from weakstep.errors import NotEnoughError

ROWS = st.lists(st.integers(-1000, 1000), min_size=3, max_size=40).filter(lambda v: len(set(v)) > 1)


def test_moving_range_spans_a_gap() -> None:
    """Across a gap the range is that of the two logged values, at the later one."""
    chart, ranges = individuals([1.0, np.nan, 4.0, 6.0])
    assert np.array_equal(ranges.values, [np.nan, np.nan, 3.0, 2.0], equal_nan=True)
    assert chart.limits.sigma == pytest.approx(2.5 / 1.1283791671)
    assert any("passed over" in note for note in chart.notes)


@settings(derandomize=True, deadline=None)
@given(ROWS, st.integers(1, 5))
def test_gaps_leave_the_limits_alone(row: list[int], at: int) -> None:
    """Inserting missing runs changes neither limits nor the number of signals."""
    values = np.array(row, dtype=float)
    gapped = np.insert(values, min(at, len(values)), [np.nan, np.nan])
    whole, _ = individuals(values)
    holed, _ = individuals(gapped)
    assert holed.limits.sigma == pytest.approx(whole.limits.sigma)
    assert len(holed.signals) == len(whole.signals)
    assert holed.false_alarm == whole.false_alarm


@settings(derandomize=True, deadline=None)
@given(ROWS, st.integers(-500, 500), st.sampled_from([0.25, 2.0, 16.0]))
def test_shift_and_scale_move_the_limits(row: list[int], shift: int, scale: float) -> None:
    """Limits follow a change of unit and origin, and the signals stay where they are."""
    values = np.array(row, dtype=float)
    chart, ranges = individuals(values)
    moved, moved_ranges = individuals(shift + scale * values)
    assert moved.limits.upper[0] == pytest.approx(shift + scale * chart.limits.upper[0], abs=1e-8)
    assert moved.limits.lower[0] == pytest.approx(shift + scale * chart.limits.lower[0], abs=1e-8)
    assert moved_ranges.limits.upper[0] == pytest.approx(scale * ranges.limits.upper[0])
    assert len(moved_ranges.signals) == len(ranges.signals)


def test_log_scale_is_shown_back_in_the_unit() -> None:
    """Limits on the log scale are the exponentials of limits of the logarithms."""
    values = np.array([10.0, 20.0, 15.0, 40.0, 12.0])
    chart, ranges = individuals(values, log_scale=True)
    logs, log_ranges = individuals(np.log(values))
    assert chart.limits.upper[0] == pytest.approx(np.exp(logs.limits.upper[0]))
    assert chart.limits.lower[0] == pytest.approx(np.exp(logs.limits.lower[0]))
    assert chart.limits.centre == pytest.approx(np.exp(np.log(values).mean()))
    assert np.array_equal(chart.values, values)
    assert ranges.values[1:] == pytest.approx(np.exp(log_ranges.values[1:]))
    assert any("log scale" in note for note in chart.notes)


def test_log_scale_with_limits_beyond_numbers() -> None:
    """A sigma of logarithms of 370 puts the upper limit at the largest number there is, nearly."""
    chart, ranges = individuals([1.0, 2.0, 3.0], log_scale=True, sigma=370.0)
    assert np.isfinite(chart.limits.upper).all()
    assert chart.limits.upper[0] == ranges.limits.upper[0] > 1e300
    assert chart.signals == ranges.signals == ()


def test_log_scale_gives_way_when_a_value_is_not_positive() -> None:
    """Zero has no logarithm: the plain scale is used and a note says so."""
    chart, _ = individuals([0.0, 1.0, 2.0, 4.0], log_scale=True)
    plain, _ = individuals([0.0, 1.0, 2.0, 4.0])
    assert chart.limits.upper[0] == plain.limits.upper[0]
    assert any("not positive" in note for note in chart.notes)


def test_far_point_and_lasting_shift_signal() -> None:
    """One wild value and nine in a row on one side are both told."""
    rng = np.random.default_rng(0)
    values = rng.normal(size=60)
    values[20] = 9.0
    values[40:] = np.abs(values[40:]) + 1.0
    chart, ranges = individuals(values)
    assert (20,) in [signal.points for signal in chart.signals]
    assert any(signal.pattern == "nine_one_side" for signal in chart.signals)
    assert {20, 21} & {signal.at for signal in ranges.signals}


@pytest.mark.parametrize(
    ("values", "words"),
    [
        (np.random.default_rng(1).lognormal(sigma=1.2, size=80), "long tail on the high side"),
        (np.round(np.random.default_rng(2).normal(scale=1.0, size=80)) % 4, "different numbers"),
        (
            np.round(np.random.default_rng(3).normal(scale=8.0, size=80), -1),
            "different numbers|coarse",
        ),
        (np.cumsum(np.random.default_rng(4).normal(size=80)), "resembles the one before"),
        (np.array([1.0, 2.0, 4.0]), "Only 3 values"),
    ],
)
def test_unfit_data_get_a_note(values: np.ndarray, words: str) -> None:
    """Skew, rounding, likeness of neighbours and shortness are told, a sentence each."""
    chart, _ = individuals(values)
    assert any(re.search(words, note) for note in chart.notes)


def test_calm_normal_data_get_no_note() -> None:
    """Nothing is said where nothing needs saying."""
    chart, ranges = individuals(np.random.default_rng(5).normal(size=100))
    assert chart.notes == ()
    assert ranges.notes == ()


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ([], "at least 2 values; 0 logged"),
        ([3.0, np.nan], "at least 2 values; 1 logged"),
        ([7.0, 7.0, np.nan, 7.0], "All 3 values equal 7"),
    ],
)
def test_too_little_is_told_in_one_sentence(values: list[float], words: str) -> None:
    """Fewer than two values, or all equal, make no chart."""
    with pytest.raises(NotEnoughError, match=words):
        individuals(values)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ([1.0, np.inf], r"NaN, found inf at place 1 \(from 0\)"),
        ([[1.0, 2.0], [3.0, 4.0]], r"NaN, got shape \(2, 2\)"),
    ],
)
def test_impossible_values_are_refused(values: list[float], words: str) -> None:
    """Infinite values and tables are not a row of values."""
    with pytest.raises(ValueError, match=f"one row of finite numbers or {words}"):
        individuals(values)


def test_input_is_copied_and_frozen() -> None:
    """The chart keeps its own values, and nobody can change them."""
    values = np.array([1.0, 2.0, 4.0])
    chart, _ = individuals(values)
    values[0] = 99.0
    assert chart.values[0] == 1.0
    with pytest.raises(ValueError, match="read-only"):
        chart.values[0] = 5.0


def test_freedom_of_moving_range_matches_simulation() -> None:
    """Relative variance 1/(2 f) of sigma within 3 standard errors in 20000 charts of 30 values."""
    values = np.random.default_rng(6).normal(size=(20000, 30))
    sigma = np.abs(np.diff(values, axis=1)).mean(axis=1) / 1.1283791671
    expected = 1 / (2 * moving_range_freedom(30))
    assert sigma.var() == pytest.approx(expected, rel=3 * np.sqrt(2 / 20000) * 1.2)
