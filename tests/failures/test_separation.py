"""Naming the columns that separate good from failed."""

from __future__ import annotations

import numpy as np

from weakstep.failures.separation import separating_columns

ONES = np.ones(6)
NAMES = ["intercept", "a", "b"]


def named(a, b, failed, tested):
    """Run the test on two columns."""
    return separating_columns(np.column_stack([ONES, a, b]), NAMES, np.array(failed), tested)


def test_overlap_is_no_separation():
    """An ordinary fit exists."""
    assert named([1, 2, 3, 4, 5, 6], [3, 1, 4, 1, 5, 9], [0, 1, 0, 1, 0, 1], ONES) == ()


def test_a_tie_between_the_groups_still_separates():
    """Quasi-complete separation: both groups meet in one value only."""
    assert named([1, 2, 3, 3, 4, 5], [3, 1, 4, 1, 5, 9], [0, 0, 0, 1, 1, 1], ONES) == ("a",)


def test_two_columns_may_separate_only_together():
    """Neither alone does."""
    a, b = [1, 2, 3, 4, 5, 6], [4, 1, 6, 2, 9, 5]
    failed = [int(x > y) for x, y in zip(a, b, strict=True)]
    assert named(a, b, failed, ONES) == ("a", "b")


def test_a_mixed_run_on_either_side_forbids_separation():
    """Runs with good and failed chips must lie on the border; these three lie apart."""
    tested = np.full(6, 2.0)
    a, b = [1, 2, 3, 4, 5, 6], [3, 1, 4, 1, 5, 9]
    assert named(a, b, [0, 0, 0, 2, 2, 2], tested) == ("a",)
    assert named(a, b, [0, 1, 0, 1, 2, 1], tested) == ()


def test_all_good_separates_by_the_intercept():
    """There is no finite rate to fit."""
    assert named([1, 2, 3, 4, 5, 6], [3, 1, 4, 1, 5, 9], [0] * 6, ONES) != ()
