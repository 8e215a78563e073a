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
    eta, fold = np.empty(len(design)), _folds(tested, seed)
    for number in range(FOLDS):
        learn, judge = (fold != number) & (tested > 0), fold == number
        if np.linalg.matrix_rank(design[learn]) < design.shape[1]:
            return Quality()
        fit = firth_fits(design[learn][None], failed[learn], tested[learn])
        eta[judge] = design[judge] @ fit.coefficients[0]
    rate = logistic(eta)
    errors = failed * (1.0 - rate) ** 2 + (tested - failed) * rate**2
    auc, brier = area_under_curve(eta, failed, tested), float(errors.sum() / tested.sum())
    groups = _calibration_groups(rate, failed, tested)
    return Quality(auc, brier, _calibration_slope(eta, failed, tested), groups)


def area_under_curve(score: np.ndarray, failed: np.ndarray, tested: np.ndarray) -> float:
    r"""
    Chance that a failed item of one run scores above a good one of another, ties counting half.

    That is the area under the ROC curve (Hanley & McNeil 1982, Radiology 143, 29-36), from counts:
    :math:`\sum_u F_u (G_{<u} + G_u / 2) / (F G)` over the different scores *u*.

    Parameters
    ----------
    score : array, shape (n_runs,)
    failed, tested : array of int, shape (n_runs,)
        At least one failed and one good item.

    Examples
    --------
    >>> area_under_curve(np.array([1.0, 2.0, 2.0]), np.array([0, 1, 0]), np.array([1, 1, 1]))
    0.75
    """
    place = np.unique(score, return_inverse=True)[1]
    bad = np.bincount(place, weights=failed)
    good = np.bincount(place, weights=tested - failed)
    below = np.cumsum(good) - good
    return float((bad * (below + 0.5 * good)).sum() / (bad.sum() * good.sum()))


def _folds(tested: np.ndarray, seed: int) -> np.ndarray:
    """Deal whole runs, shuffled and the largest first, each to the fold with the fewest items."""
    order = np.random.default_rng(seed).permutation(len(tested))
    chips, fold = np.zeros(FOLDS), np.empty(len(tested), dtype=int)
    for run in order[np.argsort(-tested[order], kind="stable")]:
        fold[run] = int(np.argmin(chips))
        chips[fold[run]] += tested[run]
    return fold


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
