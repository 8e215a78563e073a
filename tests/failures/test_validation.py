"""Cross-validation with runs kept together."""

from __future__ import annotations

import numpy as np

from weakstep.failures.firth import firth_fits
from weakstep.failures.null_model import logistic
from weakstep.failures.validation import Quality, cross_validate, roc_area

X = np.random.default_rng(21).normal(size=300)
TESTED = np.full(300, 3)


def design(column):
    """Return intercept and one column."""
    return np.column_stack([np.ones(300), column])


def test_a_right_model_foretells_and_is_calibrated():
    """True slope 1.5: AUC well above 1/2, slope within 4 of its standard errors (0.15) of 1."""
    failed = np.random.default_rng(22).binomial(TESTED, logistic(-1.0 + 1.5 * X))
    found = cross_validate(design(X), failed, TESTED, seed=0)
    rate = failed.sum() / TESTED.sum()
    assert found.auc.estimate > 0.75
    assert found.brier < rate * (1 - rate)
    assert abs(found.slope - 1.0) < 0.6


def test_noise_foretells_nothing():
    """AUC near or below 1/2 (standard error about 0.02), no gain in Brier score."""
    failed = np.random.default_rng(23).binomial(TESTED, 0.3)
    found = cross_validate(design(X), failed, TESTED, seed=0)
    assert found.auc.estimate < 0.58
    assert found.brier > 0.95 * 0.3 * 0.7


def test_chips_of_one_run_never_foretell_each_other():
    """
    Runs that fail as a whole, and thirty columns of noise that tell the runs apart.

    A fit that has seen chips of the same run foretells the others well; ours has not.
    """
    rng = np.random.default_rng(40)
    noise = np.column_stack([np.ones(60), rng.normal(size=(60, 30))])
    tested, failed = np.full(60, 10), 10 * rng.binomial(1, 0.4, 60)
    seen = noise @ firth_fits(noise[None], failed, tested).coefficients[0]
    assert roc_area(seen, failed, tested).estimate > 0.9
    assert cross_validate(noise, failed, tested, seed=0).auc.estimate < 0.7


def test_too_few_failures_give_no_figures():
    """Better none than misleading ones."""
    failed = np.zeros(300, dtype=int)
    failed[:7] = 1
    assert cross_validate(design(X), failed, TESTED, seed=0) == Quality()


def test_calibration_groups_hold_every_chip_and_rise_together():
    """Fifths of the chips by foretold rate; a right model's rates lie within its intervals."""
    failed = np.random.default_rng(25).binomial(TESTED, logistic(-1.0 + 1.5 * X))
    groups = cross_validate(design(X), failed, TESTED, seed=0).groups
    assert [group.chips for group in groups] == [180] * 5
    foretold = [group.foretold for group in groups]
    assert foretold == sorted(foretold)
    assert sum(g.observed.estimate * g.chips for g in groups) == failed.sum()
    # Chance that one of five right 95 % intervals misses by half its width as well: below 1 %.
    for group in groups:
        slack = 0.5 * (group.observed.upper - group.observed.lower)
        assert group.observed.lower - slack < group.foretold < group.observed.upper + slack


def test_equal_rates_stay_in_one_group():
    """A yes/no column has two foretold rates a fold, so no fifth is cut by the order of runs."""
    yes = (np.arange(300) % 3 == 0).astype(float)
    failed = np.random.default_rng(26).binomial(TESTED, 0.15 + 0.3 * yes)
    groups = cross_validate(design(yes), failed, TESTED, seed=0).groups
    assert sum(group.chips for group in groups) == 900
    assert 2 <= len(groups) <= 5
