"""The null model."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.integrate import quad
from scipy.stats import norm

from weakstep.failures.null_model import (
    OPERATOR_SDS,
    Background,
    fit_null,
    fit_null_with_weeks,
    fitted_operator_background,
    logistic,
    operator_background,
    overdispersion,
)

RNG = np.random.default_rng(12)
TESTED = RNG.integers(1, 5, 80)
OPERATOR = RNG.integers(0, 4, 80)
FAILED = RNG.binomial(TESTED, logistic(-1.0 + 0.8 * (OPERATOR == 2)))


def test_without_penalty_it_is_the_ordinary_fit():
    """Statsmodels on the same columns."""
    columns = np.column_stack([np.ones(80), np.random.default_rng(13).normal(size=(80, 2))])
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
    rng = np.random.default_rng(14)
    strong = rng.binomial(TESTED, logistic(-1.0 + 2.5 * rng.normal(size=16)[week]))
    background = operator_background(OPERATOR)
    fit = fit_null_with_weeks(background, week, strong, TESTED)
    assert fit.background.precision[-1] < 0.5**-2
    calm = fit_null_with_weeks(background, week, FAILED, TESTED)
    assert calm.background.precision[-1] == pytest.approx(0.5**-2)


def test_overdispersion_of_runs_that_fail_together():
    """All or none of three chips: phi is near 3; independent chips: near 1."""
    tested = np.full(400, 3)
    rng = np.random.default_rng(15)
    together = 3 * rng.binomial(1, 0.3, 400)
    apart = rng.binomial(3, 0.3, 400)
    background = operator_background(np.zeros(400))
    assert overdispersion(fit_null(background, together, tested)) == pytest.approx(3.0, abs=0.2)
    assert overdispersion(fit_null(background, apart, tested)) == pytest.approx(1.0, abs=0.2)


def test_logistic_does_not_overflow():
    """Far ends are 0 and 1."""
    np.testing.assert_allclose(logistic(np.array([-1e4, 0.0, 1e4])), [0.0, 0.5, 1.0])


def test_operators_that_differ_more_get_a_wider_prior():
    """The one of three with the most Laplace evidence: 0.5 where all are alike, more where not."""
    rng = np.random.default_rng(16)
    who, tested = np.arange(400) % 8, np.full(400, 3)
    alike = rng.binomial(tested, 0.3)
    apart = rng.binomial(tested, logistic(-1.0 + 1.6 * rng.normal(size=8)[who]))
    for failed, wide in ((alike, False), (apart, True)):
        chosen = fitted_operator_background(who, failed, tested)
        assert (chosen.precision[-1] < 0.5**-2) == wide
        evidence = [
            fit_null(Background(chosen.columns, np.array([1e-4, *[sd**-2] * 8])), failed, tested)
            .log_evidence
            for sd in OPERATOR_SDS
        ]  # fmt: skip
        assert fit_null(chosen, failed, tested).log_evidence == pytest.approx(max(evidence))


def test_log_evidence_is_the_integrated_likelihood():
    """Intercept alone, prior sd 1: against adaptive quadrature."""
    failed, tested = np.array([1, 0, 2, 1]), np.full(4, 3)
    fit = fit_null(Background(np.ones((4, 1)), np.array([1.0])), failed, tested)

    def likelihood(a: float) -> float:
        return float(np.exp((failed * a - tested * np.logaddexp(0.0, a)).sum()) * norm.pdf(a))

    # Laplace's approximation is good to 2 % with 12 chips.
    assert fit.log_evidence == pytest.approx(np.log(quad(likelihood, -8.0, 8.0)[0]), abs=0.02)
