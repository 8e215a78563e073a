"""What is said about the power of a log."""

from __future__ import annotations

from itertools import pairwise

import pytest

from weakstep.drift.power import chance_found, power_note


@pytest.mark.parametrize("shift", [0.5, 1.0, 2.0])
def test_longer_logs_and_larger_shifts_see_more(shift: float) -> None:
    """The chance grows with the log (up to its simulation error) and with the shift."""
    chances = [chance_found(runs, shift) for runs in range(25, 400, 5)]
    assert all(later >= earlier - 0.05 for earlier, later in pairwise(chances))
    assert chances[-1] > chances[0]
    if shift < 2.0:
        assert chance_found(110, shift) <= chance_found(110, 2 * shift)


def test_note_for_a_usual_semester() -> None:
    """A log of 110 runs is told what it shows of 1 and of half a standard deviation."""
    note = power_note(110)
    assert note.startswith("With 110 runs, a shift of 1 standard deviation halfway")
    assert "; a shift of 0.5 " in note


def test_note_for_a_short_log_names_a_larger_shift() -> None:
    """Where one standard deviation is often missed, two are named first."""
    assert "a shift of 2 standard deviations" in power_note(40)
    assert "; a shift of 1 " in power_note(40)


def test_note_for_a_log_too_short_to_judge() -> None:
    """Under 25 runs nothing can be judged, and the chance is nil."""
    assert power_note(24) == "With 24 runs nothing can be judged; at least 25 are needed."
    assert chance_found(24, 2.0) == 0.0
    with pytest.raises(ValueError, match=r"shift must be 0\.5, 1 or 2"):
        chance_found(100, 1.5)
