"""Windows and tightening curves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from weakstep.failures.analysis import analyse
from weakstep.failures.candidates import gather
from weakstep.failures.shares import Draws
from weakstep.failures.windows import (
    choose_window,
    failure_curve,
    possible_limits,
    rated_range,
    tightening_curves,
)
from weakstep.process.model import RatedLimit

RUNS = 100
VALUES = np.arange(RUNS) + 1.0


@pytest.fixture
def delay(log_of, parameter_of):
    """Return the candidate of a delay of 1, 2, ..., 100 s."""
    described = (parameter_of("delay_s", 3, decimals=0, unit="s"),)
    log = log_of({"delay_s": VALUES}, {"bond": np.ones(RUNS, int)}, np.full(RUNS, 2),
                 parameters=described)  # fmt: skip
    return gather(log.process, log.runs, np.zeros(RUNS, dtype=int))[0][0]


def draws_of(limits, prevented_above, prevented_below=None) -> Draws:
    """Return draws in which limits prevent known numbers of 10 failures."""
    above = np.tile(prevented_above, (50, 1))
    below = np.zeros_like(above) if prevented_below is None else np.tile(prevented_below, (50, 1))
    at = np.tile(limits.values / 10.0, (50, 1))
    return Draws(1.0, np.full(50, 10.0), below, above, at, np.full(5, 10.0), 200.0)


def test_widest_window_with_enough_of_the_gain(delay):
    """Upper limits of 50 ... 90 prevent 6, 5.5, 5.2, 3, 1: the widest with 85 % is 70."""
    limits = possible_limits(delay, -np.inf, np.inf)
    prevented = np.interp(limits.values, [50, 60, 70, 80, 90], [6.0, 5.5, 5.2, 3.0, 1.0])
    prevented[limits.values > 90] = 0.0
    choice = choose_window(delay, limits, draws_of(limits, prevented))
    assert choice.window.lower is None
    assert choice.window.upper == pytest.approx(70, abs=1)
    assert choice.inside == pytest.approx(0.7, abs=0.02)
    assert choice.window.unit == "s"


def test_nothing_to_prevent_no_window(delay):
    """A gain below 1 % is no reason to hold anything."""
    limits = possible_limits(delay, -np.inf, np.inf)
    choice = choose_window(delay, limits, draws_of(limits, np.full(len(limits.values), 0.05)))
    assert choice.window is None
    assert choice.inside is None


def test_a_side_that_hardly_ever_matters_is_left_open(delay):
    """
    Holding from below prevents 8 failures in two draws of five, from above 4 in every draw.

    On average the window with both ends gains more by far, but nobody is asked to slow down for
    what the log cannot quite rule out. Where neither side is sure, both may be held.
    """
    limits = possible_limits(delay, -np.inf, np.inf)
    above = np.where(limits.values <= 80, 4.0, 0.0)
    below = np.where(limits.values >= 20, 8.0, 0.0)
    often = (np.arange(50) % 5 < 2)[:, None]
    draws = replace(draws_of(limits, above), from_below=often * below)
    sure = choose_window(delay, limits, draws)
    assert sure.window.lower is None
    assert sure.window.upper == pytest.approx(80, abs=1)
    neither = choose_window(delay, limits, replace(draws, from_above=~often * above))
    assert neither.window.lower == pytest.approx(20, abs=1)
    assert neither.window.upper == pytest.approx(80, abs=1)


def test_no_limit_beyond_the_log_or_a_rated_limit(delay):
    """Printed digits, inside the log, inside what is rated."""
    limits = possible_limits(delay, 25.0, 64.0)
    ends = limits.values[np.concatenate([limits.lower, limits.upper])]
    assert ends.min() >= 25.0
    assert ends.max() <= 64.0
    np.testing.assert_array_equal(ends, np.round(ends))
    free = possible_limits(delay, -np.inf, np.inf)
    assert free.values.min() >= 1.0
    assert free.values.max() <= 100.0


def test_rated_limits_that_hold_for_some_rows(log_of):
    """A limit of one mould material counts once a run has it, a column by its strictest value."""
    rated = (
        RatedLimit("cure_c", "softens", "oven", upper=60.0, where={"mould": "resin"}),
        RatedLimit("cure_c", "softens", "oven", upper=50.0, where={"mould": "wax"}),
        RatedLimit("cure_c", "too cold", "oven", lower=20.0),
        RatedLimit("cure_c", "its own", "oven", upper="softening_c"),
    )
    log = log_of(
        {"cure_c": np.arange(20.0)},
        {"bond": np.ones(20, dtype=int)},
        np.full(20, 2),
        categories={"mould": np.array(["resin", "metal"] * 10)},
        rated_limits=rated,
    )
    assert rated_range(log.process, log.runs, "cure_c") == (20.0, 60.0)
    assert rated_range(log.process, log.runs, "other") == (-np.inf, np.inf)
    moulds = log_of(
        {"cure_c": np.arange(20.0), "softening_c": np.repeat([np.nan, 58.0, 49.0, 71.0], 5)},
        {"bond": np.ones(20, dtype=int)},
        np.full(20, 2),
        rated_limits=rated,
    )
    assert rated_range(moulds.process, moulds.runs, "cure_c") == (20.0, 49.0)


def test_a_parameter_of_two_values_is_held_at_one_of_them(log_of, parameter_of):
    """20 s never failed and 80 s always: hold it at 20 s, which prevents most failures.

    Between 20 and 80 s the log knows nothing, so no limit lies there.
    """
    slow = np.arange(60) % 3 == 0
    described = (parameter_of("delay_s", 3, decimals=0, unit="s"), parameter_of("other", 0))
    numbers = {
        "delay_s": np.where(slow, 80.0, 20.0),
        "other": np.random.default_rng(4).normal(size=60),
    }
    log = log_of(numbers, {"bond": 2 * slow}, np.full(60, 2), parameters=described)
    first = analyse(log, seed=0, permutations=199).factors[0]
    assert (first.column, first.window.lower, first.window.upper) == ("delay_s", None, 20.0)
    assert first.preventable_share.estimate > 0.8
    assert first.preventable_share.lower > 0.6


def test_curves_say_what_every_limit_would_do(delay):
    """Rates are failures over chips; the share of runs that met a limit is counted."""
    limits = possible_limits(delay, -np.inf, np.inf)
    prevented = np.linspace(5.0, 0.0, len(limits.values))
    curves = tightening_curves(delay, limits, draws_of(limits, prevented))
    assert [curve.side for curve in curves] == ["upper"]
    np.testing.assert_allclose(curves[0].rate, (10.0 - prevented) / 200.0)
    np.testing.assert_allclose(
        curves[0].share_met, [(limit >= VALUES).mean() for limit in limits.values]
    )
    curve = failure_curve(limits, draws_of(limits, prevented))
    np.testing.assert_allclose(curve.estimate, limits.values / 10.0 / 200.0)
    assert (curve.lower <= curve.upper).all()
