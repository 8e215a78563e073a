"""Counters: declared and recognised, and what is not a counter."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.drift.cycles import declared_cycle, undeclared_cycle


def test_services_and_lengths() -> None:
    """A counter set back at places 8 and 19 has one complete cycle of 11."""
    values = np.r_[np.arange(8.0), np.arange(11.0), np.arange(5.0)]
    cycle = declared_cycle(values)
    assert cycle is not None
    assert cycle.services == (8, 19)
    assert cycle.lengths == (11,)
    assert (cycle.reached, cycle.now) == (8.5, 4.0)


def test_counter_without_service() -> None:
    """A counter that only grew has no service; its first and last value are told."""
    cycle = declared_cycle(np.arange(3.0, 40.0))
    assert cycle is not None
    assert (cycle.services, cycle.lengths, cycle.reached, cycle.now) == ((), (), 3.0, 39.0)


def test_counting_down_works_too() -> None:
    """Days left until service fall and are set up again."""
    cycle = declared_cycle(np.tile(np.arange(10.0, 0.0, -1.0), 3))
    assert cycle is not None
    assert cycle.services == (10, 20)


def test_slip_of_reading_is_no_service() -> None:
    """A reading that is a little lower than the one before does not start a new cycle."""
    values = np.r_[np.arange(40.0), np.arange(30.0)]
    values[[10, 25, 60]] -= 1.5
    cycle = declared_cycle(values)
    assert cycle is not None
    assert cycle.services == (40,)
    assert undeclared_cycle(values) is None


@pytest.mark.parametrize("values", [np.full(30, 4.0), np.tile([1.0, 5.0, 2.0, 6.0], 10)])
def test_no_rhythm(values: np.ndarray) -> None:
    """A constant, or two moulds taken in turn, have no service rhythm."""
    assert declared_cycle(values) is None


def test_steady_rise_is_not_taken_for_a_counter() -> None:
    """Without a service a rise is a drift, unless the column is declared a counter."""
    assert undeclared_cycle(np.arange(60.0)) is None


@pytest.mark.parametrize("phi", [0.0, 0.5, 0.9])
def test_stable_series_are_never_taken_for_counters(phi: float) -> None:
    """Of 2000 stable series of 60, however much neighbours resemble, at most 1 in 200 is."""
    rng = np.random.default_rng(int(10 * phi))
    series = rng.normal(size=(60, 2000))
    for run in range(1, 60):
        series[run] = phi * series[run - 1] + np.sqrt(1 - phi**2) * series[run]
    taken = sum(undeclared_cycle(column) is not None for column in series.T)
    assert taken <= 10


def test_few_valued_series_are_never_taken_for_counters() -> None:
    """Of 2000 series of two or three values, at most 1 in 200 is taken for a counter."""
    rng = np.random.default_rng(3)
    taken = sum(
        undeclared_cycle(rng.choice([30.0, 25.0, 40.0], p=[0.7, 0.2, 0.1], size=60)) is not None
        for _ in range(2000)
    )
    assert taken <= 10
