"""Several changes, moved together, shared likeness, what else happened near."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from weakstep.drift.describe import profiles
from weakstep.drift.model import Change, Drift
from weakstep.drift.nearby import first_uses, services_of, worth_checking
from weakstep.drift.screen import screen
from weakstep.drift.several import ramp_as_good, several_steps
from weakstep.drift.together import moved_together

NOBODY = np.zeros(120, dtype=np.intp)


def levels(*parts: float, seed: int = 1, runs: int = 120) -> np.ndarray:
    """Noise of one sigma on equal parts at the given levels."""
    noise = np.random.default_rng(seed).normal(size=runs)
    return noise + np.repeat(parts, runs // len(parts))


def drift(column: str, since: int, first: int, last: int, **more: object) -> Drift:
    """Make a strong step."""
    known = {"form": "step", "before": 0.0, "after": 1.0, "p": 0.01, "evidence": "strong"}
    return Drift(column, since=since, since_interval=(first, last), **{**known, **more})  # type: ignore[arg-type]


@pytest.mark.parametrize("parts", [(0.0, 3.0, 0.0), (0.0, 3.0, 6.0), (5.0, 2.0, 6.0, 3.0)])
def test_every_change_of_level_is_placed(parts: tuple[float, ...]) -> None:
    """Changes of three sigma are found within three runs of where they are."""
    found = several_steps(levels(*parts), NOBODY, phi=0.0, better_than=40.0, seed=0)
    expected = [120 // len(parts) * (i + 1) for i in range(len(parts) - 1)]
    assert len(found) == len(expected)
    assert np.abs(np.array(found) - expected).max() <= 3


def test_one_change_or_none_is_not_several() -> None:
    """Of 40 single steps and 40 calm series at most 8 are told as several (10 % each confirmed)."""
    told = 0
    for seed in range(40):
        for parts in ((0.0, 2.0), (0.0, 0.0)):
            values = levels(*parts, seed=seed + 50)
            split = np.arange(5, 116)
            sums = np.cumsum(values - values.mean())[split - 1] ** 2 * 120 / (split * (120 - split))
            gain = -120 * np.log1p(-sums.max() / ((values - values.mean()) ** 2).sum())
            told += several_steps(values, NOBODY, phi=0.0, better_than=gain, seed=seed) != ()
    assert told <= 8


def test_a_ramp_is_offered_beside_a_staircase_that_it_fits() -> None:
    """A slow rise of three sigma cut in three: yes. A clear staircase, or there and back: no."""
    slow = np.linspace(0.0, 3.0, 120) + levels(0.0, seed=4)

    def offered(values: np.ndarray) -> bool:
        _, ramp, _ = profiles(values, NOBODY, 0.0)
        return ramp_as_good(values, NOBODY, (40, 80), phi=0.0, ramp=ramp.best)

    assert offered(slow)
    assert not offered(levels(0.0, 3.0, 6.0))
    assert not offered(levels(0.0, 3.0, 0.0))


def test_a_ramp_goes_by_the_levels_within_operators() -> None:
    """
    Levels that rise within operators may seem to fall and rise again where these take turns.

    The gain of the ramp is taken as large enough, so that directions alone decide.
    """
    who = np.repeat([0, 1, 0], 40).astype(np.intp)
    who[::8] = 1 - who[::8]
    rising = levels(0.0, 1.0, 2.0) - 6.0 * who
    whose = np.repeat([0, 0, 1], 40).astype(np.intp)
    whose[::8] = 1 - whose[::8]
    back = levels(0.0, 3.0, 1.0) + 6.0 * whose
    assert np.diff([part.mean() for part in np.split(rising, [40, 80])])[0] < 0
    assert (np.diff([part.mean() for part in np.split(back, [40, 80])]) > 0).all()
    assert ramp_as_good(rising, who, (40, 80), phi=0.0, ramp=1e9)
    assert not ramp_as_good(back, whose, (40, 80), phi=0.0, ramp=1e9)


def test_levels_of_yes_and_no_are_shares() -> None:
    """From yes in a tenth of the runs to seven tenths: medians would say from no to yes."""
    rng = np.random.default_rng(12)
    often = np.where(np.arange(160) < 80, 0.1, 0.7)
    numbers = pd.DataFrame({"touched": (rng.random(160) < often).astype(float)})
    (found,) = screen(numbers, permutations=199).drifts
    assert found.form == "step"
    split = found.since
    values = numbers["touched"].to_numpy()
    assert found.before == pytest.approx(values[:split].mean())
    assert found.after == pytest.approx(values[split:].mean())


def test_strata_do_not_hide_several_changes() -> None:
    """Two operators six sigma apart: both changes are still placed."""
    who = np.random.default_rng(2).integers(0, 2, 120)
    values = levels(0.0, 2.5, 0.0, seed=3) + 6.0 * who
    found = several_steps(values, who.astype(np.intp), phi=0.0, better_than=10.0, seed=0)
    assert found == pytest.approx((40, 80), abs=4)


def test_screen_tells_both_changes() -> None:
    """There and back again: the drift carries two changes, with intervals."""
    values = np.random.default_rng(4).normal(size=(120, 6))
    values[40:80, 0] += 3.0
    values[60:65, 1] = np.nan
    numbers = pd.DataFrame(values, columns=list("abcdef"))
    (found,) = [d for d in screen(numbers, permutations=199).drifts if d.evidence == "strong"]
    assert (found.column, len(found.changes)) == ("a", 2)
    for change, start in zip(found.changes, (40, 80), strict=True):
        assert change.since_interval[0] <= start <= change.since_interval[1]
        assert change.since_interval[0] <= change.since <= change.since_interval[1]
    first, second = found.changes
    assert first.after == second.before
    assert first.after - first.before == pytest.approx(3.0, abs=0.7)
    assert found.since in {first.since, second.since}


def test_changes_close_together_stay_in_order() -> None:
    """Levels that hold for 5 to 8 runs only: places rise by 5 or more, each in its interval."""
    told = 0
    for seed in range(30):
        rng = np.random.default_rng([6, seed])
        lengths = [30, *rng.integers(5, 9, size=2), 30]
        values = rng.normal(size=(sum(lengths), 3))
        values[:, 0] += np.repeat([0.0, 5.0, 1.5, 6.0], lengths)
        (found,) = (
            drift
            for drift in screen(pd.DataFrame(values, columns=list("abc")), permutations=99).drifts
            if drift.column == "a"
        )
        places = [change.since for change in found.changes]
        told += len(places) > 2
        assert not places or min(np.diff([0, *places, len(values)])) >= 5
        for change in found.changes:
            assert change.since_interval[0] <= change.since <= change.since_interval[1]
    assert told >= 10


def test_parameters_that_moved_together_are_named_together() -> None:
    """Two parameters that step at one run form a group; a third that steps later does not."""
    values = np.random.default_rng(5).normal(size=(120, 6))
    values[60:, 0] += 3.0
    values[60:, 1] -= 3.0
    values[95:, 2] += 4.0
    numbers = pd.DataFrame(values, columns=list("abcdef"))
    (group,) = screen(numbers, permutations=199).together
    assert set(group.columns) == {"a", "b"}
    assert group.since_interval[0] <= 60 <= group.since_interval[1]


def test_unsure_starts_join_nothing() -> None:
    """An interval of half the log is near everything and says nothing."""
    assert moved_together([drift("a", 50, 20, 80), drift("b", 50, 49, 51)]) == ()


def test_several_changes_join_by_each_of_them() -> None:
    """The second change of one parameter groups with the only one of another."""
    changes = (Change(30, (28, 32), 0.0, 1.0), Change(80, (78, 83), 1.0, 0.0))
    both = moved_together([drift("a", 30, 28, 32, changes=changes), drift("b", 81, 79, 84)])
    assert [(group.columns, group.since_interval) for group in both] == [(("a", "b"), (79, 83))]


def test_what_happened_near_is_worth_checking() -> None:
    """A service and a new lot near the start are offered, nearest first; a far one is not."""
    lots = np.array(["K1"] * 20 + ["K2"] * 32 + ["K3"] * 68)
    cycle = drift("oil", 49, 49, 49, form="cycle", evidence="none", cycle_lengths=(24,))
    near = worth_checking([drift("p", 50, 48, 54), cycle], {"kit_lot": lots})
    assert [(one.column, one.what, one.runs_away) for one in near["p"]] == [
        ("oil", "service", -1),
        ("kit_lot", "K3", 2),
    ]
    assert services_of(cycle) == (25, 49)
    assert set(near) == {"p"}


def test_gaps_and_mixtures_are_no_new_value() -> None:
    """Blank cells and mixed runs name no lot, and the first runs bring nothing new."""
    assert first_uses(["a", "b", "", "several", "a", "a", "", "several", "c"]) == [(8, "c")]
