"""Patterns: each alone, on both sides, at its edge, across gaps, and on many charts at once."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from weakstep.charts.patterns import (
    NELSON,
    PATTERNS,
    WESTERN_ELECTRIC,
    completions,
    find_signals,
    pattern,
)

# Shortest rows that complete each pattern at their last point only.
SHORTEST = {
    "beyond_limit": [0.0, 3.01],
    "nine_one_side": [-0.1, *[0.1] * 9],
    "eight_one_side": [-0.1, *[0.1] * 8],
    "six_steady": [0.0, -2.0, -1.5, -1.0, 0.5, 0.6, 0.7],
    "fourteen_alternating": [0.3, -0.3] * 7,
    "two_of_three": [0.0, 2.1, 0.0, 2.1],
    "four_of_five": [-1.1, 1.1, 1.1, -1.1, 1.1, 1.1],
    "fifteen_close": [1.5, *[0.9, -0.9, 0.0] * 5],
    "eight_far": [0.5, *[1.1, -1.1] * 4],
}


@pytest.mark.parametrize("name", PATTERNS)
@pytest.mark.parametrize("side", [1.0, -1.0])
def test_pattern_completes_at_the_last_point_only(name: str, side: float) -> None:
    """The shortest row completes the pattern, above and below the centre line alike."""
    row = side * np.array(SHORTEST[name])
    found = completions(row, [name])[name]
    assert found.tolist() == [False] * (len(row) - 1) + [True]


@pytest.mark.parametrize("name", PATTERNS)
def test_one_point_fewer_is_no_pattern(name: str) -> None:
    """Without its last point the shortest row signals nothing."""
    assert find_signals(SHORTEST[name][:-1], [name]) == ()


@pytest.mark.parametrize("name", PATTERNS)
def test_gap_neither_breaks_nor_completes(name: str) -> None:
    """Missing points are passed over: the signal is the same, at the logged points."""
    row = np.array(SHORTEST[name])
    spread = np.full(2 * len(row), np.nan)
    spread[::2] = row
    (with_gaps,) = find_signals(spread, [name])
    (without,) = find_signals(row, [name])
    assert with_gaps.points == tuple(2 * point for point in without.points)
    assert with_gaps.at == 2 * without.at


def test_points_on_a_line_do_not_count() -> None:
    """A point exactly on a limit is not beyond it, and one on the centre is on neither side."""
    assert find_signals([3.0, -3.0], ["beyond_limit"]) == ()
    assert find_signals([0.1] * 8 + [0.0] + [0.1] * 8, ["nine_one_side"]) == ()
    assert find_signals([2.0, 2.0, 2.0], ["two_of_three"]) == ()


def test_two_of_three_counts_one_side_only() -> None:
    """Two points far out on opposite sides are no pattern."""
    assert find_signals([2.5, 0.0, -2.5], ["two_of_three"]) == ()


def test_two_of_three_names_the_far_points() -> None:
    """The point between the two that are far out does not form part of the signal."""
    (signal,) = find_signals([0.0, 2.5, 0.1, 2.5], ["two_of_three"])
    assert signal.points == (1, 3)
    assert signal.phrase == "two of three beyond 2 sigma on one side"


def test_lasting_pattern_is_one_signal() -> None:
    """Twenty in a row on one side are told once, from the first to the last of them."""
    (signal,) = find_signals([-0.5, *[0.5] * 20, -0.5], ["nine_one_side"])
    assert signal.points == tuple(range(1, 21))
    assert signal.at == 9


def test_points_beyond_a_limit_are_a_signal_each() -> None:
    """Two neighbours beyond a limit are two signals."""
    assert [signal.points for signal in find_signals([4.0, 4.0])] == [(0,), (1,)]


def test_many_charts_at_once_match_one_by_one() -> None:
    """A stack of charts gives the same completions as each chart alone."""
    z = np.random.default_rng(4).normal(size=(20, 60))
    stacked = completions(z, PATTERNS)
    for name in PATTERNS:
        alone = np.array([completions(row, [name])[name] for row in z])
        assert np.array_equal(stacked[name], alone)


def test_missing_points_are_refused_where_they_cannot_be_passed_over() -> None:
    """Stacks of charts must be complete."""
    with pytest.raises(ValueError, match="missing points"):
        completions([0.0, np.nan])


def test_unknown_pattern_lists_the_known_ones() -> None:
    """A wrong name gets the list of names."""
    with pytest.raises(ValueError, match=r"'seven_up'.*nine_one_side"):
        pattern("seven_up")


@settings(derandomize=True, deadline=None)
@given(st.lists(st.floats(-4, 4), min_size=2, max_size=60))
def test_mirrored_chart_signals_at_the_same_points(row: list[float]) -> None:
    """Turning the chart upside down changes no signal."""
    up = [(s.pattern, s.points) for s in find_signals(row, PATTERNS)]
    down = [(s.pattern, s.points) for s in find_signals([-value for value in row], PATTERNS)]
    assert sorted(up) == sorted(down)


@settings(derandomize=True, deadline=None)
@given(st.integers(1, 80), st.sampled_from([*NELSON, *WESTERN_ELECTRIC]))
def test_equal_points_on_the_centre_line_signal_only_by_closeness(count: int, name: str) -> None:
    """A flat chart shows nothing but, from fifteen points on, that it is close to the centre."""
    found = find_signals([0.0] * count, [name])
    assert bool(found) == (name == "fifteen_close" and count >= 15)


def test_import_stays_light() -> None:
    """Patterns load neither scipy nor pandas."""
    code = (
        "import sys, weakstep.charts.patterns; "
        "sys.exit(any(name.split('.')[0] in ('scipy', 'pandas') for name in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
