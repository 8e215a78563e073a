"""Odds ratios per a unit that means something."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.failures.candidates import gather
from weakstep.failures.links import Link
from weakstep.failures.null_model import logistic
from weakstep.failures.odds import independent_columns, odds_ratios, operator_columns

RUNS = 300
RNG = np.random.default_rng(51)
STRATA = RNG.integers(0, 3, RUNS)
DELAY = RNG.lognormal(4.0, 0.5, RUNS)
TESTED = np.full(RUNS, 3)
FAILED = RNG.binomial(TESTED, logistic(-6.0 + np.log2(DELAY) * 0.8 + 0.5 * (STRATA == 1)))


def ratios(log_of, parameter, values, failed=FAILED, strata=STRATA):
    """Return the odds ratio of one parameter."""
    log = log_of({parameter.name: values}, {"bond": failed}, TESTED, parameters=(parameter,))
    candidates, _ = gather(log.process, log.runs, strata)
    links = (Link(0, 0, 1.0, 1.0, 1.0, None, None, "none", None, ()),)
    return odds_ratios(candidates, links, strata, failed, TESTED)[0]


def test_per_doubling_recovers_what_was_planted(log_of, parameter_of):
    """True odds ratio exp(0.8) per doubling."""
    ratio, per = ratios(log_of, parameter_of("delay_s", scale="log", per=2.0, unit="s"), DELAY)
    assert per == "per doubling"
    assert ratio.lower < np.exp(0.8) < ratio.upper
    assert ratio.level == 0.95


def test_per_ten_is_the_tenth_power_of_per_one(log_of, parameter_of):
    """Only the unit differs."""
    ten, per = ratios(log_of, parameter_of("delay_s", per=10.0, unit="s"), DELAY)
    one, _ = ratios(log_of, parameter_of("delay_s", per=1.0, unit="s"), DELAY)
    assert per == "per 10 s"
    for end in ("estimate", "lower", "upper"):
        assert getattr(ten, end) == pytest.approx(getattr(one, end) ** 10, rel=1e-6)


def test_odds_ratio_inverts_when_good_and_failed_change_places(log_of, parameter_of):
    """Also both ends of the interval, which change places."""
    parameter = parameter_of("delay_s", scale="log", per=2.0)
    ratio, _ = ratios(log_of, parameter, DELAY)
    flipped, _ = ratios(log_of, parameter, DELAY, TESTED - FAILED)
    assert flipped.estimate == pytest.approx(1 / ratio.estimate, rel=1e-6)
    assert flipped.lower == pytest.approx(1 / ratio.upper, rel=1e-6)
    assert flipped.upper == pytest.approx(1 / ratio.lower, rel=1e-6)


def test_what_only_differs_between_operators_has_none(log_of, parameter_of):
    """It cannot be told from who ran it."""
    ratio, _ = ratios(log_of, parameter_of("balance"), STRATA * 1.0)
    assert ratio is None


def test_a_column_that_one_operator_never_logged_is_fitted_on_the_rest(log_of, parameter_of):
    """The same as leaving those runs out."""
    values = np.where(STRATA == 0, np.nan, DELAY)
    ratio, _ = ratios(log_of, parameter_of("delay_s", per=10.0), values)
    assert ratio is not None
    background = operator_columns(STRATA)
    keep = independent_columns(background, STRATA != 0)
    assert keep.sum() == 2
    assert np.linalg.matrix_rank(background[STRATA != 0][:, keep]) == 2
