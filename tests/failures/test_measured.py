"""Burst pressure and time to failure."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import CensoredData, weibull_min
from statsmodels.duration.survfunc import SurvfuncRight

from weakstep.errors import NotEnoughError
from weakstep.failures.measured import hazard_scores, measured_outcomes, median_held, weibull

RUNS = 60


@pytest.fixture
def burst_log(log_of, parameter_of):
    """Return a builder of logs of 60 runs of 2 chips with burst pressures."""

    def build(burst, modes, test_kpa=None, seed=0):
        rng = np.random.default_rng(seed)
        delay, other = rng.uniform(10, 90, RUNS), rng.normal(size=RUNS)
        described = (
            parameter_of("delay_s", 3),
            parameter_of("other", 0),
            parameter_of("test_kpa", role="outcome", unit="kPa"),
            parameter_of("burst_kpa", role="outcome", unit="kPa"),
        )
        failed = {"bond": np.zeros(RUNS, dtype=int), "port": np.zeros(RUNS, dtype=int)}
        log = log_of({"delay_s": delay, "other": other}, failed, np.full(RUNS, 2),
                     parameters=described)  # fmt: skip
        chips = log.chips.assign(
            run=np.repeat(log.runs.run_id, 2),
            burst_kpa=burst(np.repeat(delay, 2), rng),
            test_kpa=np.nan if test_kpa is None else test_kpa,
            mode=modes,
        )
        return replace(log, chips=chips)

    return build


def falling(delay, rng):
    """Burst pressure that halves when the delay exceeds 50 s."""
    return 300.0 * np.where(delay > 50, 0.5, 1.0) * rng.weibull(5.0, len(delay))


def test_the_cause_of_weak_bonds_comes_first(burst_log):
    """A delay above 50 s halves the burst pressure: strong; the other is not claimed beside it."""
    found = measured_outcomes(burst_log(falling, "bond_lost"), seed=0, permutations=499)
    assert [one.column for one in found] == ["burst_kpa"]
    first, second = found[0].links
    assert (first.column, first.evidence) == ("delay_s", "strong")
    assert second.evidence in ("none", "some")
    assert first.shape.startswith(("rises above", "falls below"))
    assert (found[0].failed, found[0].held) == (120, 0)
    assert 150 < found[0].median < 300


def test_port_failures_and_gauge_limits_are_censored(burst_log):
    """A quarter failed at the port, a quarter held.

    Good chips without a burst are censored at the test pressure; two good chips at the highest
    value held to the gauge limit.
    """
    modes = np.array(["bond_lost", "bond_lost", "port_lost", "good"] * 30, dtype=object)

    def burst(delay, rng):
        values = falling(delay, rng)
        values[modes == "good"] = np.nan
        values[[3, 7]] = 900.0
        return values

    found = measured_outcomes(burst_log(burst, modes, test_kpa=100.0), seed=0, permutations=99)[0]
    assert (found.failed, found.held) == (60, 60)


def test_too_few_measured_nothing_ranked(burst_log):
    """Ten burst pressures are too few."""

    def burst(delay, rng):
        return np.where(np.arange(len(delay)) < 10, falling(delay, rng), np.nan)

    assert measured_outcomes(burst_log(burst, "bond_lost"), seed=0) == ()


def test_scores_are_observed_less_expected():
    """Summed over a group: observed less expected failures of the log-rank test, by hand.

    Values 1 2 2 3+ 4 (+ held), group A = first and fourth: expected in A 2/5 + 2 * 1/4 = 0.9
    while it observed 1; its member at 3 outlived 1 and 2 (the failure at 4 comes later).
    """
    values = np.array([1.0, 2.0, 2.0, 3.0, 4.0])
    reached = np.array([True, True, True, False, True])
    scores = hazard_scores(values, reached)
    assert scores[[0, 3]].sum() == pytest.approx(1 - 0.9)
    assert scores.sum() == pytest.approx(0.0)


def test_median_agrees_with_statsmodels():
    """Kaplan-Meier median of censored values."""
    rng = np.random.default_rng(111)
    values = np.round(rng.weibull(2.0, 80) * 100, 1)
    reached = rng.random(80) < 0.7
    theirs = SurvfuncRight(values, reached.astype(int)).quantile(0.5)
    assert median_held(values, reached) == pytest.approx(theirs)
    assert median_held(values, np.arange(80) < 5) is None


def test_weibull_agrees_with_scipy():
    """Maximum likelihood with censoring; their simplex stops within 1e-3."""
    rng = np.random.default_rng(112)
    values = rng.weibull(2.5, 100) * 250
    reached = values < 280
    values = np.minimum(values, 280.0)
    data = CensoredData(uncensored=values[reached], right=values[~reached])
    shape, _, scale = weibull_min.fit(data, floc=0)
    assert weibull(values, reached) == pytest.approx((shape, scale), rel=1e-3)


def test_one_value_makes_no_weibull():
    """A distribution needs a spread."""
    with pytest.raises(NotEnoughError, match="two different values"):
        weibull(np.array([5.0, 5.0, 7.0]), np.array([True, True, False]))
