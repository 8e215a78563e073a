"""Run lengths of random combinations of patterns against simulated charts."""

from __future__ import annotations

import time

import numpy as np
import pytest

from weakstep.charts.false_alarms import false_alarm, false_alarm_alone
from weakstep.charts.pattern_shapes import between, beyond
from weakstep.charts.patterns import NELSON, PATTERNS, WESTERN_ELECTRIC, completions
from weakstep.charts.run_lengths import (
    average_run_length,
    run_length_law,
    survival,
    zone_probabilities,
)
from weakstep.charts.zone_chain import machine

ZONE_PATTERNS = [name for name in PATTERNS if name not in ("six_steady", "fourteen_alternating")]
SERIES, POINTS = 1500, 150


@pytest.mark.parametrize("seed", range(30))
def test_random_combination(seed: int) -> None:
    """The mean run length, cut at 150 points, agrees within 3 standard errors."""
    rng = np.random.default_rng([30, seed])
    names = sorted(rng.choice(list(PATTERNS), size=rng.integers(1, 6), replace=False))
    shift = float(rng.uniform(0.0, 1.5))
    found = completions(rng.normal(shift, size=(SERIES, POINTS)), names)
    signals = np.logical_or.reduce(list(found.values()))
    lengths = np.where(signals.any(axis=1), signals.argmax(axis=1) + 1, POINTS)
    law = run_length_law(names, shift)
    exact = sum(law.survival(point) for point in range(POINTS))
    error = max(float(lengths.std()), 1.0) / np.sqrt(SERIES)
    assert lengths.mean() == pytest.approx(exact, abs=3 * error)


def test_combination_of_all_zone_patterns_is_quick() -> None:
    """An average run length of seven patterns at once takes under 0.2 s of computing."""
    machine.cache_clear()
    average_run_length(WESTERN_ELECTRIC)  # imports
    began = time.process_time()
    average = average_run_length(ZONE_PATTERNS)
    assert time.process_time() - began < 0.2 * 3  # three times the promise, for slow machines
    assert 80 < average < 90


def test_all_patterns_with_steps_are_quick() -> None:
    """Eight patterns, two of them of steps, take about 0.2 s of computing."""
    average_run_length(("beyond_limit", "six_steady"))  # imports
    began = time.process_time()
    average = average_run_length(NELSON)
    assert time.process_time() - began < 0.2 * 3  # three times the promise, for slow machines
    assert average == pytest.approx(1 + survival(3000, NELSON).sum(), rel=1e-9)


def test_what_each_pattern_adds() -> None:
    """Alone, a pattern alarms less than any combination with it; steps have their own chance."""
    for name in WESTERN_ELECTRIC:
        assert 0.0 < false_alarm_alone(100, name) < false_alarm(100, WESTERN_ELECTRIC)
    assert {name: false_alarm_alone(0, name) for name in NELSON} == dict.fromkeys(NELSON, 0.0)


def test_other_spread_and_patterns_of_ones_own() -> None:
    """A wider spread is a narrower limit; own patterns have the same law as the named ones."""
    for spread in (0.8, 1.5):
        scaled = average_run_length([beyond(1, 1, 3.0 / spread)])
        assert average_run_length(["beyond_limit"], spread=spread) == pytest.approx(scaled)
    own = [beyond(1, 1, 3.0), beyond(2, 3, 2.0), beyond(8, 8, 0.0)]
    named = ["beyond_limit", "two_of_three", "eight_one_side"]
    assert average_run_length(own, 0.7) == pytest.approx(average_run_length(named, 0.7))
    # Beyond the limit signals by itself, so a zone that ends there is the same pattern.
    inner = [beyond(1, 1, 3.0), between(2, 3, 2.0, 3.0), between(8, 8, 0.0, 3.0)]
    assert average_run_length(inner, 0.7) == pytest.approx(average_run_length(named, 0.7))
    with pytest.raises(ValueError, match="needed <= window"):
        beyond(4, 3, 1.0)
    with pytest.raises(ValueError, match="low below high"):
        between(2, 3, 1.0, 1.0)
    with pytest.raises(ValueError, match="at least one pattern"):
        average_run_length([])
    with pytest.raises(ValueError, match="spread must be above 0"):
        average_run_length(spread=0.0)


def test_patterns_of_ones_own_by_simulation() -> None:
    """Warning limits at 1.96 and action limits at 3.09 on one side, within 3 standard errors."""
    own = [beyond(1, 1, 3.09, sides=1), beyond(2, 2, 1.96, sides=1)]
    found = completions(np.random.default_rng(6).normal(0.8, size=(4000, 100)), own)
    share = np.mean(np.any([hits.any(axis=1) for hits in found.values()], axis=0))
    exact = 1 - run_length_law(own, 0.8).survival(100)
    assert share == pytest.approx(exact, abs=3 * np.sqrt(exact * (1 - exact) / 4000))


@pytest.mark.parametrize("names", [WESTERN_ELECTRIC, ("nine_one_side", "six_steady"), NELSON])
def test_steady_state_by_simulation(names: tuple[str, ...]) -> None:
    """A shift of 1 sigma after 40 stable points without a signal, within 3 standard errors."""
    z = np.random.default_rng(8).normal(size=(20_000, 100))
    z[:, 40:] += 1.0
    signals = np.logical_or.reduce(list(completions(z, names).values()))
    late = signals[~signals[:, :40].any(axis=1), 40:]
    lengths = np.where(late.any(axis=1), late.argmax(axis=1) + 1, 60)
    law = run_length_law(names, 1.0, steady_state=True)
    exact = sum(law.survival(point) for point in range(60))
    assert lengths.mean() == pytest.approx(exact, abs=3 * lengths.std() / np.sqrt(len(lengths)))
    zero_state = average_run_length(names, 1.0)
    assert law.average < zero_state


@pytest.mark.parametrize("shift", [0.0, 1.0])
def test_law_of_the_three_sigma_chart_is_geometric(shift: float) -> None:
    """Mean 1/p, standard deviation sqrt(1-p)/p and the quantiles of a geometric number."""
    law = run_length_law(["beyond_limit"], shift)
    p = 1.0 - survival(1, ["beyond_limit"], zone_probabilities(shift))[0]
    assert law.average == pytest.approx(1 / p, rel=1e-12)
    assert law.sd == pytest.approx(np.sqrt(1 - p) / p, rel=1e-9)
    for level in (0.01, 0.1, 0.5, 0.95, 0.9999):
        assert law.quantile(level) == np.ceil(np.log1p(-level) / np.log1p(-p))
    assert law.survival(1000) == pytest.approx((1 - p) ** 1000, rel=1e-9)
    with pytest.raises(ValueError, match="level must lie between 0 and 1"):
        law.quantile(1.0)


def test_law_agrees_with_its_own_survival() -> None:
    """Average and quantiles of all patterns together follow from the chances point by point."""
    law = run_length_law(WESTERN_ELECTRIC, 0.5)
    chances = survival(3000, WESTERN_ELECTRIC, zone_probabilities(0.5))
    assert law.average == pytest.approx(1 + chances.sum(), rel=1e-10)
    n = np.arange(len(chances)) + 1.0
    square = 1 + ((2 * n + 1) * chances).sum()
    assert law.sd == pytest.approx(np.sqrt(square - law.average**2), rel=1e-9)
    for level in (0.1, 0.5, 0.99):
        assert law.quantile(level) == 1 + int(np.argmax(chances <= 1 - level))


def test_ten_thousand_charts_with_all_patterns() -> None:
    """10,000 charts of 200 points with eight patterns take under 3 s of computing."""
    z = np.random.default_rng(4).normal(size=(10_000, 200))
    began = time.process_time()
    found = completions(z, NELSON)
    assert time.process_time() - began < 3.0
    share = np.mean(np.any([hits.any(axis=1) for hits in found.values()], axis=0))
    exact = 1 - run_length_law(NELSON).survival(200)
    assert share == pytest.approx(exact, abs=3 * np.sqrt(exact * (1 - exact) / 10_000))
