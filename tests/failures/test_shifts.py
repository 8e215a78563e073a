"""What a shift did to the expected failures."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from weakstep.failures.model import Curve
from weakstep.failures.shifts import (
    consequence_of_shift,
    moved_since_the_start,
    shift_of_shares,
)

LINE = np.array([0.0, 1.0])
FACTOR = SimpleNamespace(
    family="bond",
    column="delay_s",
    curve=Curve(
        values=100.0 * LINE, estimate=0.4 * LINE, lower=0.3 * LINE, upper=0.5 * LINE, level=0.9
    ),
)
VALUES = np.array([10.0, 10.0, 60.0, np.nan, 60.0])
CHIPS = np.array([2, 2, 3, 3, 1])


def test_failures_on_the_curve() -> None:
    """From 10 to 60 the curve rises by .2: .8 failures more among 4 chips; bands joined."""
    found = consequence_of_shift(FACTOR, VALUES, CHIPS, since=2, shift=50.0)  # type: ignore[arg-type]
    assert found is not None
    assert found.failures.estimate == pytest.approx(4 * 0.2)
    assert found.failures.lower == pytest.approx(4 * (0.3 * 0.6 - 0.5 * 0.1))
    assert found.failures.upper == pytest.approx(4 * (0.5 * 0.6 - 0.3 * 0.1))
    assert (found.chips, found.failures.level, found.column) == (4, 0.9, "delay_s")


def test_a_shift_that_grew() -> None:
    """Each run is compared with its own share of the shift."""
    shift = np.array([0.0, 0.0, 25.0, 0.0, 50.0])
    found = consequence_of_shift(FACTOR, VALUES, CHIPS, since=2, shift=shift)  # type: ignore[arg-type]
    assert found is not None
    assert found.failures.estimate == pytest.approx(0.4 * (3 * 0.25 + 1 * 0.5))


def test_nothing_to_compare() -> None:
    """No chip tested since, or no curve: no statement."""
    assert consequence_of_shift(FACTOR, VALUES, 0 * CHIPS, since=2, shift=1.0) is None  # type: ignore[arg-type]
    flat = SimpleNamespace(family="bond", column="x", curve=None)
    assert consequence_of_shift(flat, VALUES, CHIPS, since=0, shift=1.0) is None  # type: ignore[arg-type]


@pytest.mark.parametrize(("before", "after"), [(0.1, 0.7), (0.7, 0.1), (0.0, 1.0), (0.4, 0.4)])
def test_shares_move_back_to_what_they_were(before, after):
    """Whatever the runs have on average now, taking the shift off leaves what they had before."""
    values = np.where(np.arange(1000) < round(1000 * after), 1.0, 0.0)
    back = values - shift_of_shares(values, before, after)
    assert back.mean() == pytest.approx(before)
    assert back.min() >= 0.0
    assert back.max() <= 1.0


def test_runs_are_compared_with_the_level_before_any_change() -> None:
    """There and back again: nothing has moved at the end; a ramp reaches its level there."""
    values = np.array([10.0, 10.0, 60.0, 60.0, 10.0, 10.0])
    levels = [(2, 60.0), (4, 10.0)]
    back = moved_since_the_start(values, levels, 10.0, shares=False, grows=False)
    np.testing.assert_allclose(values - back, 10.0)
    ramp = moved_since_the_start(np.zeros(6), [(1, 8.0)], 0.0, shares=False, grows=True)
    np.testing.assert_allclose(ramp, [0.0, 0.0, 2.0, 4.0, 6.0, 8.0])
    yes = np.array([0.0, 0.0, 1.0, 1.0, 0.0, 1.0])
    shares = moved_since_the_start(yes, [(2, 1.0), (4, 0.5)], 0.0, shares=True, grows=False)
    np.testing.assert_allclose(yes - shares, 0.0)
