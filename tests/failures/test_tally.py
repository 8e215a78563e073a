"""Counting outcomes."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.failures.tally import tally, wilson


def test_counts_are_by_chip_and_modes_are_sorted(log_of):
    """Two families, most frequent mode first; shares are of the tested chips."""
    tested = np.full(10, 4)
    failed = {"bond": np.array([1] * 3 + [0] * 7), "port": np.array([2] * 4 + [0] * 6)}
    counted = tally(log_of({"a": np.arange(10.0)}, failed, tested))
    assert (counted.tested, counted.failed, counted.untested) == (40, 11, 0)
    assert [(one.mode, one.count, one.family) for one in counted.modes] == [
        ("port_lost", 8, "port"),
        ("bond_lost", 3, "bond"),
    ]
    assert counted.rate == wilson(11, 40)
    assert counted.by_family == {"bond": wilson(3, 40), "port": wilson(8, 40)}


def test_nothing_tested_has_no_rate(log_of):
    """A share of nothing is not 0."""
    counted = tally(log_of({}, {"bond": np.zeros(3, dtype=int)}, np.zeros(3, dtype=int)))
    assert counted.rate is None
    assert counted.modes == ()
    assert counted.by_family == {}


@pytest.mark.parametrize(("count", "tested"), [(1, 0), (-1, 3), (4, 3)])
def test_impossible_counts_fail(count, tested):
    """The message says what was found."""
    with pytest.raises(ValueError, match=f"got {count} of {tested}"):
        wilson(count, tested)
