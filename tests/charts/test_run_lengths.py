"""Run lengths of random combinations of patterns against simulated charts."""

from __future__ import annotations

import time

import numpy as np
import pytest

from weakstep.charts.false_alarm import false_alarm, false_alarm_alone
from weakstep.charts.patterns import NELSON, PATTERNS, WESTERN_ELECTRIC, completions
from weakstep.charts.run_lengths import (
    average_run_length,
    survival,
    transitions,
    zone_probabilities,
)

ZONE_PATTERNS = [name for name in PATTERNS if name not in ("six_steady", "fourteen_alternating")]
SERIES, POINTS = 1500, 150


@pytest.mark.parametrize("seed", range(30))
def test_random_combination(seed: int) -> None:
    """The mean run length, cut at 150 points, agrees within 3 standard errors."""
    rng = np.random.default_rng([30, seed])
    names = sorted(rng.choice(ZONE_PATTERNS, size=rng.integers(1, 6), replace=False))
    shift = float(rng.uniform(0.0, 1.5))
    found = completions(rng.normal(shift, size=(SERIES, POINTS)), names)
    signals = np.logical_or.reduce(list(found.values()))
    lengths = np.where(signals.any(axis=1), signals.argmax(axis=1) + 1, POINTS)
    exact = 1.0 + survival(POINTS - 1, names, zone_probabilities(shift)).sum()
    error = max(float(lengths.std()), 1.0) / np.sqrt(SERIES)
    assert lengths.mean() == pytest.approx(exact, abs=3 * error)


def test_combination_of_all_zone_patterns_is_quick() -> None:
    """An average run length of seven patterns at once takes under 0.2 s of computing."""
    transitions.cache_clear()
    average_run_length(WESTERN_ELECTRIC)  # imports
    began = time.process_time()
    average = average_run_length(ZONE_PATTERNS)
    assert time.process_time() - began < 0.2 * 3  # three times the promise, for slow machines
    assert 80 < average < 90


def test_what_each_pattern_adds() -> None:
    """Alone, a pattern alarms less than any combination with it; steps have their own chance."""
    for name in WESTERN_ELECTRIC:
        assert 0.0 < false_alarm_alone(100, name) < false_alarm(100, WESTERN_ELECTRIC)
    assert {name: false_alarm_alone(0, name) for name in NELSON} == dict.fromkeys(NELSON, 0.0)
