"""Logs as long as one likes with the habits of a given one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from weakstep.failures.candidates import gather, pool_small_strata
from weakstep.failures.evidence import likelihood_table
from weakstep.failures.links import Outcomes
from weakstep.failures.longer_logs import Simulation, habits, resampled
from weakstep.failures.null_model import fit_null, operator_background
from weakstep.failures.permuting import draw_orders, score
from weakstep.failures.planting import planted_rate, upper_half

RUNS = 90


@pytest.fixture
def asked(log_of):
    """Return outcomes and candidates: a drifting parameter, one that follows who ran it, noise."""
    rng = np.random.default_rng(51)
    operator = rng.choice(["A", "B", "C"], RUNS, p=[0.6, 0.3, 0.1])
    numbers = {
        "drifting": np.arange(RUNS) + rng.normal(0.0, 5.0, RUNS),
        "habit": (operator == "A") + rng.normal(0.0, 0.1, RUNS),
        "noise": rng.normal(size=RUNS),
    }
    tested = rng.integers(1, 4, RUNS)
    log = log_of(
        numbers,
        {"bond": rng.binomial(tested, 0.25)},
        tested,
        operator=operator,
        week=np.arange(RUNS) // 6,
    )
    strata = pool_small_strata(operator)
    candidates = gather(log.process, log.runs, strata)[0]
    return Outcomes(tested, dict(log.runs.failed), operator, log.runs.week), candidates


def test_whole_weeks_are_drawn(asked):
    """Runs keep who ran them, chips, values and the company of their week."""
    outcomes, candidates = asked
    log = habits(outcomes, candidates, "bond")
    longer, places = resampled(log, 200, np.random.default_rng(1))
    assert len(longer.tested) == 200
    np.testing.assert_array_equal(longer.operator, outcomes.operator[places])
    np.testing.assert_array_equal(longer.tested, outcomes.tested[places])
    np.testing.assert_array_equal(longer.failed["bond"], outcomes.failed["bond"][places])
    for column, candidate in zip(longer.columns, candidates, strict=True):
        np.testing.assert_array_equal(column, candidate.columns[places])
    for week in np.unique(longer.week)[:-1]:
        (drawn,) = np.unique(outcomes.week[places[longer.week == week]])
        together = np.flatnonzero(outcomes.week == drawn)
        np.testing.assert_array_equal(places[longer.week == week], together)


def test_time_goes_on_and_drifts_stay(asked):
    """Weeks follow each other; in each semester a week stands within two of its own place."""
    outcomes, candidates = asked
    log = habits(outcomes, candidates, "bond")
    longer, places = resampled(log, 200, np.random.default_rng(1))
    steps = np.diff(longer.week)
    assert set(steps.tolist()) == {0, 1}
    weeks = len(np.unique(outcomes.week))
    assert (np.abs(outcomes.week[places] - longer.week % weeks) <= 2).all()
    assert np.corrcoef(outcomes.week[places], longer.week % weeks)[0, 1] > 0.9


def test_spread_within_operators_is_that_of_a_long_log(log_of):
    """
    Groups of 6 runs: their own spread is too small by 1 - 1/6, and the widening puts it right.

    Mean over 300 parameters, with a standard error of 0.016.
    """
    rng = np.random.default_rng(52)
    operator = np.repeat(["A", "B", "C", "D", "E"], 6)
    values = rng.normal(size=(30, 300))
    log = log_of({"x": values[:, 0]}, {"bond": np.ones(30, dtype=int)}, np.full(30, 2))
    candidates = gather(log.process, log.runs, pool_small_strata(operator))[0]
    asked = Outcomes(np.full(30, 2), {"bond": np.ones(30, dtype=int)}, operator, np.zeros(30, int))
    longer, _ = resampled(habits(asked, candidates, "bond"), 60, rng)
    within = values.reshape(5, 6, 300).var(axis=1).mean()
    assert within < 0.88
    assert within * longer.widening**2 == pytest.approx(1.0, abs=0.06)


def test_scores_tell_what_they_tell_in_a_longer_log(asked):
    """The table of a log repeated three times is that of the log with everything times three."""
    outcomes, candidates = asked
    shapes = candidates[2].shapes
    positive = np.array([shape.positive for shape in shapes])
    failed, tested = outcomes.failed["bond"], outcomes.tested
    # Without operators: their penalised effects would be less drawn in by three times the runs.
    background = operator_background(np.full(RUNS, "A"))
    fit = fit_null(background, failed, tested)
    columns = fit.project(candidates[2].columns)
    variance = (columns**2).sum(axis=0)
    scaled = likelihood_table(
        np.sqrt(3.0) * columns, 3.0 * variance, positive, replace(fit, weights=3.0 * fit.weights)
    )
    repeated = replace(
        fit, weights=np.tile(fit.weights, 3), probability=np.tile(fit.probability, 3)
    )
    long = likelihood_table(np.tile(columns, (3, 1)), 3.0 * variance, positive, repeated)
    np.testing.assert_allclose(scaled.values, long.values, atol=2e-3)


def test_planted_scores_are_those_of_the_screen(asked):
    """
    Mean and spread of z over simulated logs, against the screen's own score of drawn failures.

    200 drawn logs: the mean of z has a standard error of 0.07, its spread one of 0.05.
    """
    outcomes, candidates = asked
    log = habits(outcomes, candidates, "bond")
    rng = np.random.default_rng(53)
    simulation = Simulation(log, RUNS, "bond", rng)
    one, upper = candidates[2], upper_half(candidates[2])
    plain = simulation.planted(2, upper, 4.0, 500, rng)[0]
    expected, luck = plain.expected[0], plain.luck[0]
    rate = planted_rate(log.rate, log.tested, upper, 4.0)
    strata = pool_small_strata(outcomes.operator)
    found = []
    for _ in range(200):
        chips = 1.0 / log.together - 1.0 if log.together > 1e-3 else 1e3
        drawn = rng.binomial(log.tested, rng.beta(rate * chips, (1.0 - rate) * chips))
        fit = fit_null(simulation.background, drawn, log.tested)
        positive = np.array([shape.positive for shape in one.shapes])
        scores = score(
            fit.project(one.columns),
            fit.residuals,
            np.zeros(len(positive), dtype=int),
            positive,
            draw_orders(strata, 1, rng),
        )
        found.append(scores.z[0])
    assert expected + luck.mean() == pytest.approx(np.mean(found), abs=0.25)
    assert luck.std() == pytest.approx(np.std(found), abs=0.2)
