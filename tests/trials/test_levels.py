"""Levels of a trial: inside the log, within rated limits, either side of a window."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from weakstep.errors import LogError
from weakstep.failures.model import Window
from weakstep.runlog.model import RunLog
from weakstep.trials.levels import choose_levels

Bench = Callable[..., RunLog]


def test_levels_stay_inside_the_log(bench: Bench) -> None:
    """Unasked: the 10 and 90 % quantiles; asked beyond the log: refused."""
    log = bench()
    assert choose_levels(log, "heat").values == pytest.approx((4.9, 36.1))
    assert choose_levels(log, "heat", count=3).values == pytest.approx((4.9, 20.5, 36.1))
    assert choose_levels(log, "heat", asked=(1.0, 40.0)).values == (1.0, 40.0)
    with pytest.raises(LogError, match="outside what the log has seen"):
        choose_levels(log, "heat", asked=(1.0, 40.5))


def test_levels_never_pass_a_rated_limit(bench: Bench) -> None:
    """What the log saw beyond the limit is no excuse."""
    log = bench(limit=30.0)
    found = choose_levels(log, "heat")
    assert found.highest == 30.0
    assert max(found.values) <= 30.0
    with pytest.raises(LogError, match="within rated limits"):
        choose_levels(log, "heat", asked=(5.0, 31.0))


def test_levels_follow_the_window(bench: Bench) -> None:
    """Median inside the window; outside it what one run in ten passed, or the median there."""
    found = choose_levels(bench(), "heat", window=Window(None, 20.0, ""))
    assert found.values == pytest.approx((10.5, 36.1))
    found = choose_levels(bench(), "heat", window=Window(None, 37.0, ""))
    assert found.values == pytest.approx((19.0, 39.0))
    found = choose_levels(bench(), "heat", window=Window(15.0, 30.0, ""))
    assert found.values == pytest.approx((4.9, 22.5))


@pytest.mark.parametrize(
    ("column", "said"),
    [
        ("colour", "no numbers for 'colour'"),
        ("rh_pct", "cannot be set for a run"),
        ("oil_hours", "cannot be set for a run"),
        ("equivalent_cure", "computed from others"),
    ],
)
def test_what_cannot_be_set_is_refused(semester: RunLog, column: str, said: str) -> None:
    """Ambient, counters, computed and unknown columns: one sentence each."""
    with pytest.raises(LogError, match=said):
        choose_levels(semester, column)


def test_levels_asked_are_two_or_three(bench: Bench) -> None:
    """One level compares nothing, four are not planned."""
    with pytest.raises(LogError, match="expected 2 or 3"):
        choose_levels(bench(), "heat", asked=(5.0,))
