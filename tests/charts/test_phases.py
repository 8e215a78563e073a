"""Baselines, stages and strata on individuals charts; other estimates of sigma."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.charts.phases import by_strata, monitored, staged
from weakstep.charts.variables import individuals
from weakstep.errors import NotEnoughError


def noise(seed: int, count: int = 60) -> np.ndarray:
    """Independent normal values about 10."""
    return np.random.default_rng(seed).normal(10.0, 1.0, size=count)


def test_limits_of_the_baseline_hold_for_all() -> None:
    """A later shift signals against limits that it has not widened."""
    values = noise(1)
    values[40:] += 5.0
    chart, _ = monitored(values, 40)
    alone, _ = individuals(values[:40])
    assert chart.limits.upper == pytest.approx(np.full(60, alone.limits.upper[0]))
    assert chart.limits.sigma_from.endswith("of the baseline")
    assert chart.limits.degrees_of_freedom == alone.limits.degrees_of_freedom
    assert {signal.at for signal in chart.signals} >= {42, 43}


def test_exclusions_are_told_and_not_repeated() -> None:
    """One wild value is left out by the caller; another stays, signals, and is told."""
    values = noise(2)
    values[[5, 25]] = 30.0
    chart, _ = monitored(values, 40, left_out=[5])
    assert any("Left out of the baseline" in note and "run 6." in note for note in chart.notes)
    assert any("signals (run 26)" in note and "kept whole" in note for note in chart.notes)
    pairs = [i for i in range(1, 40) if 5 not in (i - 1, i)]
    expected = np.abs(np.diff(values))[[i - 1 for i in pairs]].mean() / 1.1283791670955126
    assert chart.limits.sigma == pytest.approx(expected)


def test_median_moving_range_resists_a_wild_value() -> None:
    """One wild value moves the mean moving range by half and more, the median hardly."""
    values = noise(3, 400)
    wild = values.copy()
    wild[200] = 200.0
    for by, most in (("median moving range", 1.01), ("mean moving range", None)):
        before, after = (
            individuals(v, sigma_by=by)[0].limits.sigma  # type: ignore[arg-type]
            for v in (values, wild)
        )
        assert after / before < most if most else after / before > 1.5
    assert individuals(values, sigma_by="median moving range")[0].limits.sigma == pytest.approx(
        1.0, abs=3 / np.sqrt(2 * 0.31 * 399)
    )


def test_known_values_are_used_as_they_are() -> None:
    """Known centre and sigma give limits at three sigma and infinite degrees of freedom."""
    chart, ranges = individuals(noise(4), centre=10.0, sigma=2.0)
    assert (chart.limits.upper[0], chart.limits.lower[0]) == (16.0, 4.0)
    assert ranges.limits.upper[0] == pytest.approx(2.0 * 3.685886, abs=1e-4)
    assert chart.limits.degrees_of_freedom == np.inf
    assert chart.limits.sigma_from == "given"


def test_stages_have_limits_of_their_own() -> None:
    """After a service the level differs: no signal by stage, many on one chart."""
    values = noise(5)
    values[30:] += 8.0
    values[44] = 40.0
    chart = staged(values, [30])
    alone = individuals(values[:30])[0]
    assert chart.limits.upper[:30] == pytest.approx(alone.limits.upper)
    assert chart.limits.upper[30] > chart.limits.upper[29] + 5
    assert 44 in {signal.at for signal in chart.signals}
    assert not {signal.at for signal in chart.signals} & set(range(25))
    assert individuals(values)[0].signals != ()


def test_short_stage_is_told() -> None:
    """A stage of five values has no limits, and a note says so."""
    chart = staged(noise(6), [55])
    assert np.isnan(chart.limits.upper[55:]).all()
    assert any("stage 2" in note for note in chart.notes)


def test_strata_hide_nothing_that_all_do() -> None:
    """Two operators with their own levels are quiet, and a shift that both make signals."""
    who = np.tile(["A", "B"], 60)
    values = noise(7, 120) + np.where(who == "B", 6.0, 0.0)
    assert by_strata(values, who).signals == ()
    values[100:] += 3.0
    assert any(signal.at >= 100 for signal in by_strata(values, who).signals)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: monitored(noise(8), 80), "baseline must hold 2 to 60"),
        (lambda: monitored(noise(8), 40, left_out=[50]), "left out"),
        (lambda: staged(noise(8), [0]), "starts must lie from 1"),
        (lambda: by_strata(noise(8), ["A"]), "each of the 60 runs"),
        (lambda: individuals(noise(8), sigma=-1.0), "sigma must be above 0"),
        (lambda: individuals(noise(8), baseline=[True]), "baseline must mark the 60"),
        (lambda: individuals(noise(8), baseline=[60]), "places from 0 to 59, found 60"),
        (lambda: individuals(noise(8), baseline=[-1, 0]), "places from 0 to 59, found -1"),
        (lambda: individuals(noise(8), baseline=[0.5]), "one row of whole numbers"),
        (lambda: individuals(noise(8), baseline=["a"]), "must hold numbers"),
        (lambda: individuals(noise(8), sigma_by="range"), "sigma_by must be"),  # type: ignore[arg-type]
    ],
)
def test_impossible_requests_are_refused(call, words: str) -> None:  # type: ignore[no-untyped-def]
    """Each says what was found."""
    with pytest.raises(ValueError, match=words):
        call()


@pytest.mark.parametrize("kind", [list, np.array])
def test_whole_numbers_are_places_and_only_truth_values_mark(kind: type) -> None:
    """A baseline of as many places as there are runs is not read as truth values."""
    values = np.array([1.0, 2.0, 9.0, 4.0])
    by_places, _ = individuals(values, baseline=kind([0, 1, 1, 0]))
    by_marks, _ = individuals(values, baseline=kind([True, True, False, False]))
    assert by_places.limits.centre == by_marks.limits.centre == 1.5
    assert by_places.limits.sigma == by_marks.limits.sigma == pytest.approx(1 / 1.1283791671)
    every = noise(10)
    for baseline in (np.arange(60), np.ones(60, dtype=bool), None):
        limits = individuals(every, baseline=baseline)[0].limits
        assert limits.centre == pytest.approx(every.mean())
        assert limits.sigma_from == "mean moving range / 1.128"


def test_too_little_is_said() -> None:
    """No stratum of eight values: no chart, and the reason."""
    with pytest.raises(NotEnoughError, match="No group holds 8"):
        by_strata(noise(9, 6), list("ABCABC"))
    with pytest.raises(NotEnoughError, match="neighbouring values in its baseline"):
        individuals(noise(9), baseline=np.arange(60) == 3)
    with pytest.raises(NotEnoughError, match="no centre line"):
        individuals(noise(9), baseline=[], sigma=1.0)
