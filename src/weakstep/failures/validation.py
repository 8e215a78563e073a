"""How well the reported model foretells runs it has not seen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from weakstep.failures.firth import firth_fits
from weakstep.failures.model import CalibrationGroup
from weakstep.failures.null_model import logistic
from weakstep.failures.wilson import wilson

FOLDS = 5
FEWEST_FAILURES = 8
FEWEST_RUNS = 20

GROUPS = 5


@dataclass(frozen=True)
class Quality:
    """
    How well the model foretells runs it has not seen; None and () when there is too little data.

    Attributes
    ----------
    auc, brier, slope : float or None
    groups : tuple of CalibrationGroup
        From the lowest foretold rate to the highest.
    """

    auc: float | None = None
    brier: float | None = None
    slope: float | None = None
    groups: tuple[CalibrationGroup, ...] = ()


def cross_validate(
    design: np.ndarray, failed: np.ndarray, tested: np.ndarray, seed: int
) -> Quality:
    """
    Cross-validate the penalised model with the chips of one run kept together.

    Parameters
    ----------
    design : array, shape (n_runs, n_columns)
    failed, tested : array of int, shape (n_runs,)
    seed : int
        Shuffles the runs before they are dealt into 5 folds.

    Returns
    -------
    Quality
        Area under the ROC curve; mean squared error of the probability; slope of the logit of
        observed failure on the foretold logit (1 is right, below 1 too extreme); and foretold
        beside observed rates by fifths of the chips. Nothing when there are fewer than 20 runs, 8
        failed or 8 good chips, or a fold lacks what it needs.

    References
    ----------
    Cox, D. R. (1958), Biometrika 45, 562-565 (calibration slope); Brier, G. W. (1950), Monthly
    Weather Review 78, 1-3.
    """
    good = int((tested - failed).sum())
    if len(design) < FEWEST_RUNS or min(int(failed.sum()), good) < FEWEST_FAILURES:
        return Quality()
    from sklearn.metrics import brier_score_loss, roc_auc_score
    from sklearn.model_selection import GroupKFold

    run = np.repeat(np.arange(len(design)), tested)
    outcome = np.concatenate(
        [np.repeat([1, 0], [k, m - k]) for k, m in zip(failed, tested, strict=True)]
    )
    eta = np.full(len(design), np.nan)
    dealt = np.random.default_rng(seed).permutation(len(design))[run]
    for train, test in GroupKFold(FOLDS).split(run, groups=dealt):
        learn, judge = np.unique(run[train]), np.unique(run[test])
        if np.linalg.matrix_rank(design[learn]) < design.shape[1]:
            return Quality()
        fit = firth_fits(design[learn][None], failed[learn], tested[learn])
        eta[judge] = design[judge] @ fit.coefficients[0]
    auc = float(roc_auc_score(outcome, eta[run]))
    brier = float(brier_score_loss(outcome, logistic(eta[run])))
    groups = _calibration_groups(logistic(eta), failed, tested)
    return Quality(auc, brier, _calibration_slope(eta, failed, tested), groups)


def _calibration_groups(
    foretold: np.ndarray, failed: np.ndarray, tested: np.ndarray
) -> tuple[CalibrationGroup, ...]:
    """Deal the runs into fifths of the chips by their foretold rate; equal rates stay together."""
    place = np.unique(foretold, return_inverse=True)[1]
    chips = np.bincount(place, weights=tested)
    before = np.cumsum(chips) - chips
    fifth = np.minimum(((before + 0.5 * chips) * GROUPS / chips.sum()).astype(int), GROUPS - 1)
    groups = []
    for number in np.unique(fifth[chips > 0]):
        here = (fifth == number)[place]
        k, m = int(failed[here].sum()), int(tested[here].sum())
        mean = float((foretold * tested)[here].sum() / m)
        groups.append(CalibrationGroup(mean, wilson(k, m), m))
    return tuple(groups)


def _calibration_slope(eta: np.ndarray, failed: np.ndarray, tested: np.ndarray) -> float | None:
    used = tested > 0
    design = np.column_stack([np.ones(len(eta)), eta])[used]
    if np.linalg.matrix_rank(design) < 2:
        return None
    fit = firth_fits(design[None], failed[used], tested[used])
    return float(fit.coefficients[0, 1])
