"""The null model."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm

from weakstep.failures.null_model import (
    Background,
    fit_null,
    fit_null_with_weeks,
    logistic,
    operator_background,
    overdispersion,
)

RNG = np.random.default_rng(12)
TESTED = RNG.integers(1, 5, 80)
OPERATOR = RNG.integers(0, 4, 80)
FAILED = RNG.binomial(TESTED, logistic(-1.0 + 0.8 * (OPERATOR == 2)))


def test_without_penalty_it_is_the_ordinary_fit():
    """Statsmodels on the same columns; the intercept's prior of sd 100 moves the 4th digit."""
    columns = np.column_stack([np.ones(80), RNG.normal(size=(80, 2))])
    fit = fit_null(Background(columns, np.full(3, 1e-10)), FAILED, TESTED)
    other = sm.GLM(
        np.column_stack([FAILED, TESTED - FAILED]), columns, family=sm.families.Binomial()
    ).fit()
    np.testing.assert_allclose(fit.coefficients, other.params, atol=1e-6)
    np.testing.assert_allclose(fit.residuals, other.resid_pearson, atol=1e-6)


def test_operator_effects_are_shrunk():
    """Random effects lie between none and those of the ordinary fit."""
    fit = fit_null(operator_background(OPERATOR), FAILED, TESTED)
    effects = fit.coefficients[1:]
    free = fit_null(
        Background(operator_background(OPERATOR).columns, np.full(5, 1e-4)), FAILED, TESTED
    )
    assert np.ptp(effects) < np.ptp(free.coefficients[1:])
    assert effects.argmax() == free.coefficients[1:].argmax()


def test_one_operator_gives_the_intercept_alone():
    """There is nobody to differ from."""
    background = operator_background(np.full(80, "A"))
    assert background.columns.shape == (80, 1)
    fit = fit_null(background, FAILED, TESTED)
    assert fit.probability[0] == pytest.approx(FAILED.sum() / TESTED.sum(), abs=1e-3)


def test_projection_is_free_of_what_the_null_model_explains():
    """Its own unpenalised columns project to nothing."""
    fit = fit_null(operator_background(OPERATOR), FAILED, TESTED)
    assert np.abs(fit.project(np.ones((80, 1)))).max() < 1e-3


def test_week_effects_grow_with_the_weeks():
    """Strong weeks choose a larger spread than none: more evidence than at the smallest."""
    week = np.repeat(np.arange(16), 5)
    strong = RNG.binomial(TESTED, logistic(-1.0 + 2.5 * RNG.normal(size=16)[week]))
    background = operator_background(OPERATOR)
    fit = fit_null_with_weeks(background, week, strong, TESTED)
    assert fit.background.precision[-1] < 0.5**-2
    calm = fit_null_with_weeks(background, week, FAILED, TESTED)
    assert calm.background.precision[-1] == pytest.approx(0.5**-2)


def test_overdispersion_of_runs_that_fail_together():
    """All or none of three chips: phi is near 3; independent chips: near 1."""
    tested = np.full(400, 3)
    together = 3 * RNG.binomial(1, 0.3, 400)
    apart = RNG.binomial(3, 0.3, 400)
    background = operator_background(np.zeros(400))
    assert overdispersion(fit_null(background, together, tested)) == pytest.approx(3.0, abs=0.2)
    assert overdispersion(fit_null(background, apart, tested)) == pytest.approx(1.0, abs=0.2)


def test_logistic_does_not_overflow():
    """Far ends are 0 and 1."""
    np.testing.assert_allclose(logistic(np.array([-1e4, 0.0, 1e4])), [0.0, 0.5, 1.0])
