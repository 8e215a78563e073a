"""Where on the chip failures lie."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from weakstep.failures.places import grid_cell, place_counts


@pytest.mark.parametrize(
    ("words", "cell"),
    [
        ("Top left", (0, 0)),
        ("unten rechts", (2, 2)),
        ("right", (1, 2)),
        ("centre", (1, 1)),
        ("bottom", (2, 1)),
        ("corner", None),
        ("left and right", None),
        ("", None),
    ],
)
def test_words_that_name_a_cell(words, cell):
    """Rows count from the top, columns from the left; words that fit two cells name none."""
    assert grid_cell(words) == cell


def test_places_of_failed_chips_are_counted(log_of):
    """Good chips and empty places do not count; spelling in capitals is one place."""
    log = log_of({"x": np.arange(4.0)}, {"bond": np.array([2, 1, 1, 0])}, np.full(4, 2))
    words = ["Corner", "corner ", "", "top left", None, "edge", "edge", "edge"]
    order = log.chips.assign(failure_location=words)
    counts = place_counts(replace(log, chips=order))
    expected = {}
    for place, failed in zip(words, log.chips["failed"], strict=True):
        if place and failed:
            expected[place.strip().lower()] = expected.get(place.strip().lower(), 0) + 1
    assert {one.words: one.count for one in counts} == expected
    assert counts[0].count == max(expected.values())
    assert sum(one.share.estimate for one in counts) == pytest.approx(1.0)


def test_no_place_logged(log_of):
    """A log without that column has no places."""
    log = log_of({"x": np.arange(4.0)}, {"bond": np.ones(4, dtype=int)}, np.full(4, 2))
    assert place_counts(log) == ()
