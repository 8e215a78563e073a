"""
Cross-validation by a second road: folds of scikit-learn, penalised fits of firthmodels.

Low birth weight (Hosmer, D. W. & Lemeshow, S., Applied Logistic Regression; 189 births): weight of
the mother, smoking, hypertension. Area, Brier score, calibration slope and calibration groups are
worked out from the other package's foretold rates.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from firthmodels import FirthLogisticRegression
from scipy.special import expit
from sklearn.metrics import brier_score_loss, roc_auc_score
from sklearn.model_selection import GroupKFold
from statsmodels.stats.proportion import proportion_confint

from weakstep.failures.validation import cross_validate

DATA = Path(__file__).parent / "data"


@pytest.fixture(scope="module")
def births() -> tuple[np.ndarray, np.ndarray]:
    """Return columns and outcome."""
    table = pd.read_csv(DATA / "birthwt_189.csv")
    return table[["lwt", "smoke", "ht"]].to_numpy(dtype=float), table.low.to_numpy()


@pytest.fixture(scope="module")
def foretold(births) -> np.ndarray:
    """Return the logit that four fifths of the births foretell for each of the last fifth."""
    columns, outcome = births
    dealt = np.random.default_rng(0).permutation(len(outcome))
    eta = np.empty(len(outcome))
    for learn, judge in GroupKFold(5).split(outcome, groups=dealt):
        fit = FirthLogisticRegression(gtol=1e-8, xtol=1e-8, max_iter=200)
        fit.fit(columns[learn], outcome[learn])
        eta[judge] = columns[judge] @ fit.coef_ + fit.intercept_
    return eta


@pytest.fixture(scope="module")
def found(births):
    """Return our figures."""
    columns, outcome = births
    design = np.column_stack([np.ones(len(outcome)), columns])
    return cross_validate(design, outcome, np.ones_like(outcome), seed=0)


def test_area_and_brier_score(births, foretold, found):
    """By scikit-learn's measures of the other package's rates."""
    _, outcome = births
    assert found.auc.estimate == pytest.approx(roc_auc_score(outcome, foretold), abs=1e-6)
    assert found.brier == pytest.approx(brier_score_loss(outcome, expit(foretold)), abs=1e-6)


def test_calibration_slope(births, foretold, found):
    """A penalised fit of the outcome on what was foretold."""
    _, outcome = births
    fit = FirthLogisticRegression(gtol=1e-8, xtol=1e-8, max_iter=200)
    fit.fit(foretold[:, None], outcome)
    assert found.slope == pytest.approx(fit.coef_[0], abs=1e-5)


def test_calibration_groups(births, foretold, found):
    """Fifths by rank: foretold means, observed rates with statsmodels' Wilson limits."""
    _, outcome = births
    rate = expit(foretold)
    order = np.argsort(rate, kind="stable")
    # Equal rates stay together: a birth belongs to the fifth that its rate's middle lies in.
    first, last = (np.searchsorted(rate[order], rate, side=side) for side in ("left", "right"))
    fifth = ((first + last) / 2 * 5 / len(rate)).astype(int)
    assert len(found.groups) == len(np.unique(fifth))
    for group, number in zip(found.groups, np.unique(fifth), strict=True):
        here = fifth == number
        assert group.chips == here.sum()
        assert group.foretold == pytest.approx(rate[here].mean(), abs=1e-6)
        limits = proportion_confint(outcome[here].sum(), here.sum(), method="wilson")
        assert (group.observed.lower, group.observed.upper) == pytest.approx(limits, abs=1e-9)
