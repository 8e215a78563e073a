"""Odds ratios by other roads."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import t

from weakstep.failures.null_model import logistic
from weakstep.failures.reported import fit_reported
from weakstep.failures.roads import clustered_fit
from weakstep.failures.terms import Column

RUNS = 160


def reported(columns, background, names, failed, tested):
    """Fit these columns beside a background."""
    described = [Column(name, values, 1.0, "per 1") for name, values in columns.items()]
    return fit_reported("bond", described, background, names, failed, tested, (), seed=0)


def confounded(slope: float):
    """One of two operators fails more and has higher values; within operators the slope acts."""
    rng = np.random.default_rng(31)
    slow = np.arange(RUNS) % 2.0
    values = rng.normal(1.5 * slow)
    tested = np.full(RUNS, 3)
    failed = rng.binomial(tested, logistic(-2.0 + 1.6 * slow + slope * values))
    return values, slow, tested, failed


def test_alone_it_looks_guilty_beside_the_operator_not():
    """The unadjusted odds ratio is clearly above 1, the adjusted interval holds 1."""
    values, slow, tested, failed = confounded(0.0)
    background = np.column_stack([np.ones(RUNS), slow])
    model = reported({"a": values}, background, ["intercept", "operator B"], failed, tested)
    (road,) = model.roads
    assert road.alone.lower > 1.0
    assert road.adjusted.lower < 1.0 < road.adjusted.upper
    assert road.adjusted == model.terms[2].odds_ratio
    assert road.clustered.lower < 1.0 < road.clustered.upper


def test_allowing_for_time_takes_a_shared_trend_away():
    """Values and failures rise through the log for another reason."""
    rng = np.random.default_rng(32)
    time = np.linspace(-1.0, 1.0, RUNS)
    values, tested = 1.5 * time + rng.normal(size=RUNS), np.full(RUNS, 3)
    failed = rng.binomial(tested, logistic(-1.0 + 1.5 * time))
    (road,) = reported({"a": values}, np.ones((RUNS, 1)), ["intercept"], failed, tested).roads
    assert road.adjusted.lower > 1.0
    assert road.with_time.lower < 1.0 < road.with_time.upper


def sandwich_by_hand(design, failed, tested, coefficients, correlation):
    """Write out the bias-reduced sandwich of Mancl & DeRouen (2001) run by run."""
    bread, pieces = 0.0, []
    for row, k, m in zip(design, failed, tested, strict=True):
        p = logistic(row @ coefficients)
        d = np.repeat((p * (1 - p) * row)[None], m, axis=0)
        v = p * (1 - p) * ((1 - correlation) * np.eye(m) + correlation)
        bread = bread + d.T @ np.linalg.solve(v, d)
        pieces.append((d, v, np.repeat([1.0, 0.0], [k, m - k]) - p))
    inverse, meat = np.linalg.inv(bread), 0.0
    for d, v, residual in pieces:
        leverage = d @ inverse @ d.T @ np.linalg.inv(v)
        one = d.T @ np.linalg.solve(v, np.linalg.solve(np.eye(len(v)) - leverage, residual))
        meat = meat + np.outer(one, one)
    return inverse @ meat @ inverse


def test_sandwich_agrees_with_the_formula_written_out():
    """Two roads: statsmodels' equations, and the published formula at its solution."""
    rng = np.random.default_rng(33)
    x, tested = rng.normal(size=60), rng.integers(1, 4, 60)
    failed = rng.binomial(tested, rng.beta(1.0, 2.0, 60))
    design = np.column_stack([np.ones(60), x])
    coefficients, covariance = clustered_fit(design, failed, tested)
    # The moment estimate of the exchangeable correlation, as in Liang & Zeger (1986), section 4.
    p = logistic(design @ coefficients)
    e1, e0 = (1 - p) / np.sqrt(p * (1 - p)), -p / np.sqrt(p * (1 - p))
    good = tested - failed
    total = failed * e1 + good * e0
    squares = failed * e1**2 + good * e0**2
    scale = squares.sum() / tested.sum()
    pairs = (tested * (tested - 1) / 2).sum()
    correlation = ((total**2 - squares) / 2).sum() / scale / (pairs - 2)
    by_hand = sandwich_by_hand(design, failed, tested, coefficients, correlation)
    # The two take different degrees of freedom off the correlation: 1e-3 of a standard error.
    ours, other = (np.sqrt(np.diagonal(one)) for one in (covariance, by_hand))
    np.testing.assert_allclose(ours, other, rtol=1e-3)
    assert covariance[0, 1] == pytest.approx(by_hand[0, 1], abs=1e-3 * ours.prod())


def test_interval_uses_as_many_clusters_as_there_are_runs():
    """Student's t on runs less columns; the odds ratio is per the column's step."""
    values, slow, tested, failed = confounded(0.5)
    background = np.column_stack([np.ones(RUNS), slow])
    described = [Column("a", values, 2.0, "per 2")]
    model = fit_reported(
        "bond", described, background, ["intercept", "B"], failed, tested, (), seed=0
    )
    coefficients, covariance = clustered_fit(np.column_stack([background, values]), failed, tested)
    reach = t.ppf(0.975, RUNS - 3) * np.sqrt(covariance[2, 2])
    found = model.roads[0].clustered
    assert np.log(found.estimate) == pytest.approx(2 * coefficients[2])
    assert np.log(found.upper) == pytest.approx(2 * (coefficients[2] + reach))


def test_runs_of_one_chip_have_no_correlation_to_estimate():
    """Independence, and the coefficients of the ordinary fit."""
    rng = np.random.default_rng(34)
    x, tested = rng.normal(size=90), np.ones(90, dtype=int)
    failed = rng.binomial(1, logistic(-0.5 + x))
    model = reported({"a": x}, np.ones((90, 1)), ["intercept"], failed, tested)
    coefficients, _ = clustered_fit(np.column_stack([np.ones(90), x]), failed, tested)
    np.testing.assert_allclose(coefficients, [row[1] for row in model.unpenalised], atol=1e-6)


def test_a_separating_column_has_no_unpenalised_road():
    """The penalised roads exist; the page gets None for the other, never a warning."""
    x = np.arange(60.0)
    failed = (x > 40).astype(int)
    model = reported({"a": x}, np.ones((60, 1)), ["intercept"], failed, np.ones(60, dtype=int))
    assert model.separated == ("a",)
    assert model.roads[0].clustered is None
    assert model.roads[0].alone is not None


def test_columns_that_say_the_same_are_named():
    """A parameter that only one operator changes, and one that is another in other units."""
    slow = np.arange(60) % 2.0
    background = np.column_stack([np.ones(60), slow])
    failed, tested = np.arange(60) % 3 // 2, np.ones(60, dtype=int)
    model = reported({"cure_c": 70 + 5 * slow}, background, ["intercept", "B"], failed, tested)
    assert model.terms == ()
    assert model.notes == (
        "Not fitted: these columns say the same in every run: intercept, B, cure_c.",
    )


def test_columns_that_nearly_say_the_same_are_named():
    """Readings of one quantity by two instruments; a third column is not accused."""
    rng = np.random.default_rng(35)
    a, other, tested = rng.normal(30.0, 2.0, 120), rng.normal(size=120), np.full(120, 2)
    columns = {"first_c": a, "second_c": a + rng.normal(0, 0.02, 120), "delay_s": other}
    failed = rng.binomial(2, 0.3, 120)
    model = reported(columns, np.ones((120, 1)), ["intercept"], failed, tested)
    said = [note for note in model.notes if "nearly say the same" in note]
    assert said == [
        "These columns nearly say the same, so neither can be judged: first_c, second_c."
    ]
