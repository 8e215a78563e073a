"""One parameter run by run: what is told depends on nothing that comes later, nor on the looks."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.watching.baseline import WatchedColumn
from weakstep.watching.columns import watched_columns
from weakstep.watching.following import Followed, follow


def baseline(values: np.ndarray) -> WatchedColumn:
    """Freeze one parameter alone, for a semester of 60 runs."""
    return watched_columns([(False, values)], 60, 0.04)[0]


def moving(kind: str) -> tuple[WatchedColumn, np.ndarray]:
    """Return a baseline of 60 values and 150 new ones, of which 30 to 80 lie higher."""
    rng = np.random.default_rng(61)
    values = rng.standard_t(3, size=210) if kind == "heavy tails" else rng.normal(size=210)
    for place in range(1, 210 if kind == "memory" else 0):
        values[place] += 0.5 * values[place - 1]
    values[90:140] += 2.0
    if kind == "rounded":
        values = values.round()
    return baseline(values[:60]), values[60:]


@pytest.mark.parametrize("kind", ["normal", "heavy tails", "memory", "rounded"])
@pytest.mark.parametrize("resets", [(), (20, 100), tuple(range(0, 150, 3))])
def test_run_by_run_is_all_at_once(kind: str, resets: tuple[int, ...]) -> None:
    """After every fifth run, and those at signals, what is told is that of the log up to then."""
    column, new = moving(kind)
    whole = follow(column, new, resets)
    assert whole.passed or len(resets) > 2, "there is something to tell"
    at_signals = [one.at + more for one in whole.passed for more in (0, 1)]
    for count in sorted({*range(0, len(new), 5), *at_signals}):
        part = follow(column, new[:count], [place for place in resets if place <= count])
        assert part.passed == tuple(one for one in whole.passed if one.at < count)
        assert part.scores == pytest.approx(whole.scores[:count], abs=1e-12)


@pytest.mark.parametrize("kind", ["normal", "heavy tails", "memory", "rounded"])
@pytest.mark.parametrize("look", [1, 7, 1000])
def test_looks_change_nothing(kind: str, look: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Shorter or longer looks save time, no more."""
    column, new = moving(kind)
    usual = follow(column, new, [100])
    monkeypatch.setattr("weakstep.watching.following._FIRST_LOOK", look)
    found = follow(column, new, [100])
    assert found.passed == usual.passed
    assert found.scores == pytest.approx(usual.scores, abs=1e-12)


def ties_only() -> Followed:
    """97 values alike and three others; 40 new ones alike."""
    return follow(baseline(np.append(np.ones(97), [2.0, 3.0, 4.0])), np.ones(40))


def test_odd_columns() -> None:
    """Nothing new, one run, a reset before every run, values that are nearly all alike."""
    column, new = moving("normal")
    assert follow(column, new[:0]).passed == follow(column, new[:1]).passed == ()
    assert follow(column, new[:1]).scores.shape == (1,)
    assert follow(column, new, range(150)).passed == ()
    assert ties_only().passed == ()
    assert np.isfinite(ties_only().scores).all()
