"""Cross-validation with runs kept together."""

from __future__ import annotations

import numpy as np

from weakstep.failures.null_model import logistic
from weakstep.failures.validation import cross_validate

RNG = np.random.default_rng(21)
X = RNG.normal(size=300)
TESTED = np.full(300, 3)


def design(column):
    """Return intercept and one column."""
    return np.column_stack([np.ones(300), column])


def test_a_right_model_foretells_and_is_calibrated():
    """True slope 1.5: AUC well above 1/2, slope within 4 of its standard errors (0.15) of 1."""
    failed = RNG.binomial(TESTED, logistic(-1.0 + 1.5 * X))
    auc, brier, slope = cross_validate(design(X), failed, TESTED, seed=0)
    rate = failed.sum() / TESTED.sum()
    assert auc > 0.75
    assert brier < rate * (1 - rate)
    assert abs(slope - 1.0) < 0.6


def test_noise_foretells_nothing():
    """AUC near or below 1/2 (standard error about 0.02), no gain in Brier score."""
    failed = RNG.binomial(TESTED, 0.3)
    auc, brier, _ = cross_validate(design(X), failed, TESTED, seed=0)
    assert auc < 0.58
    assert brier > 0.95 * 0.3 * 0.7


def test_chips_of_one_run_never_foretell_each_other():
    """Runs that fail as a whole, and a column that only names the run: leaking would show."""
    failed = 3 * RNG.binomial(1, 0.3, 300)
    auc, _, _ = cross_validate(design(X), failed, TESTED, seed=0)
    assert auc < 0.62


def test_too_few_failures_give_no_figures():
    """Better none than misleading ones."""
    failed = np.zeros(300, dtype=int)
    failed[:7] = 1
    assert cross_validate(design(X), failed, TESTED, seed=0) == (None, None, None)
