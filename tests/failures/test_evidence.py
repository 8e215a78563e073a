"""Evidence of a shape's score: against integration done otherwise, and in its limits."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from weakstep.failures.evidence import EFFECT_SD, LARGEST, likelihood_table, normal_evidence
from weakstep.failures.null_model import Background, fit_null

RUNS = 80


@pytest.fixture
def fitted():
    """Return an intercept-only fit and two columns free of it, times the root of the weights."""
    rng = np.random.default_rng(3)
    tested = rng.integers(2, 5, RUNS)
    failed = rng.binomial(tested, 0.2)
    fit = fit_null(Background(np.ones((RUNS, 1)), np.array([1e-9])), failed, tested)
    u = rng.normal(size=RUNS)
    shapes = np.column_stack([u, np.maximum(u - 0.8, 0.0)])
    return fit, fit.project(shapes / shapes.std(axis=0)), failed, tested


def test_table_is_the_integrated_likelihood(fitted):
    """At the observed score: the binomial likelihood integrated over b by adaptive quadrature."""
    fit, columns, failed, tested = fitted
    information = (columns**2).sum(axis=0)
    columns = columns[:, [0, 1, 1]]
    information = information[[0, 1, 1]]
    table = likelihood_table(columns, information, np.array([0.5, 1.0, 0.8]), fit)
    score = fit.residuals @ columns
    found = table.at((score / np.sqrt(information))[:, None])[:, 0]
    x = columns / np.sqrt(fit.weights)[:, None]
    eta = fit.background.columns @ fit.coefficients

    def likelihood(b: float, j: int) -> float:
        moved = eta + b * x[:, j]
        before = failed @ eta - tested @ np.logaddexp(0.0, eta)
        after = failed @ moved - tested @ np.logaddexp(0.0, moved)
        return float(np.exp(after - before) * norm.pdf(b, scale=EFFECT_SD))

    both = quad(likelihood, -4.0, 4.0, args=(0,), epsabs=1e-9)[0]
    above = 2.0 * quad(likelihood, 0.0, 4.0, args=(1,), epsabs=1e-9)[0]
    below = 2.0 * quad(likelihood, -4.0, 0.0, args=(1,), epsabs=1e-9)[0]
    mostly = 0.8 * above + 0.2 * below
    # The table steps by one standard deviation of b and by 0.1 in z, in single precision.
    assert found == pytest.approx(np.log([both, above, mostly]), abs=0.02)


def test_stronger_is_stronger_beyond_the_table(fitted):
    """A two-sided shape tells more as z grows past the table; a one-sided one nothing below 0."""
    fit, columns, _, _ = fitted
    table = likelihood_table(columns, (columns**2).sum(axis=0), np.array([0.5, 1.0]), fit)
    z = np.array([4.0, LARGEST, LARGEST + 1.0, LARGEST + 5.0])
    evidence = table.at(np.tile(z, (2, 1)))
    assert (np.diff(evidence, axis=1) > 0).all()
    assert table.at(np.tile(-z, (2, 1)))[1].max() < 0.0


def test_normal_evidence_of_one_shape_orders_as_z_does():
    """Two-sided by the size of z; one-sided by z itself."""
    z = np.array([[-3.0, -1.0, 0.0, 1.0, 3.0]])
    two, one = (normal_evidence(z, np.array([side])) for side in (0.5, 1.0))
    assert two[0].tolist() == two[0][::-1].tolist()
    assert (np.diff(one[0]) > 0).all()
