"""How well the reported model foretells runs it has not seen."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from weakstep.failures.firth import firth_fits
from weakstep.failures.model import CalibrationGroup
from weakstep.failures.null_model import logistic
from weakstep.failures.wilson import wilson
from weakstep.interval import Interval

FOLDS = 5
FEWEST_FAILURES = 8
FEWEST_RUNS = 20
FEWEST_EITHER = 2

GROUPS = 5


@dataclass(frozen=True)
class Quality:
    """
    How well the model foretells runs it has not seen; None and () when there is too little data.

    Attributes
    ----------
    auc : Interval or None
        Area under the ROC curve.
    brier, slope : float or None
    groups : tuple of CalibrationGroup
        From the lowest foretold rate to the highest.
    """

    auc: Interval | None = None
    brier: float | None = None
    slope: float | None = None
    groups: tuple[CalibrationGroup, ...] = ()


def roc_area(
    foretold: np.ndarray, failed: np.ndarray, tested: np.ndarray, level: float = 0.95
) -> Interval | None:
    r"""
    Estimate the chance that a failed chip was foretold a higher rate than a good one.

    With :math:`F_i` the share of good chips below run i (ties count half) and :math:`G_i` that of
    failed chips above it, the area is :math:`A = \sum k_i F_i / K = \sum g_i G_i / N`, for k failed
    and g good chips of each run, K and N in all. Runs are the independent units: with
    :math:`a_i = k_i (F_i - A)`, :math:`b_i = g_i (G_i - A)` and I runs, of which :math:`I_k` have a
    failed chip and :math:`I_g` a good one,

    .. math:: \operatorname{Var} A = \frac{I_k}{I_k - 1} \frac{\sum a_i^2}{K^2}
        + \frac{I_g}{I_g - 1} \frac{\sum b_i^2}{N^2}
        + \frac{2 I}{I - 1} \frac{\sum a_i b_i}{K N}.

    The interval is symmetric on the logit scale.

    Parameters
    ----------
    foretold : array, shape (n_runs,)
        Any score that rises with the chance of failure.
    failed, tested : array of int, shape (n_runs,)
    level : float, default 0.95

    Returns
    -------
    Interval or None
        None unless two runs have a failed chip and two a good one. An area of 0 or 1 has the limits
        of Wilson for as many pairs as there are runs with failed, or with good chips.

    References
    ----------
    DeLong, E. R., DeLong, D. M. & Clarke-Pearson, D. L. (1988), Biometrics 44, 837-845; Obuchowski,
    N. A. (1997), Biometrics 53, 567-578 (chips of one run).

    Examples
    --------
    >>> area = roc_area(np.array([1, 2, 3, 4]), np.array([0, 1, 0, 1]), np.array([1, 1, 1, 1]))
    >>> area.estimate
    0.75
    """
    k, g = failed.astype(float), (tested - failed).astype(float)
    runs, with_bad, with_good = (int(some.sum()) for some in (tested > 0, k > 0, g > 0))
    if min(with_bad, with_good) < FEWEST_EITHER:
        return None
    place = np.unique(foretold, return_inverse=True)[1]
    bad, good = np.bincount(place, weights=k), np.bincount(place, weights=g)
    below = ((np.cumsum(good) - 0.5 * good) / good.sum())[place]
    above = (1.0 - (np.cumsum(bad) - 0.5 * bad) / bad.sum())[place]
    area = float(k @ below / k.sum())
    a, b = k * (below - area), g * (above - area)
    if not 0.0 < area < 1.0:
        pairs = min(with_bad, with_good)
        ends = wilson(round(area) * pairs, pairs, level)
        return Interval(area, ends.lower, ends.upper, level)
    variance = with_bad / (with_bad - 1.0) * float(a @ a) / float(k.sum()) ** 2
    variance += with_good / (with_good - 1.0) * float(b @ b) / float(g.sum()) ** 2
    variance += 2.0 * runs / (runs - 1.0) * float(a @ b) / float(k.sum() * g.sum())
    middle = math.log(area / (1.0 - area))
    error = math.sqrt(max(variance, 0.0)) / (area * (1.0 - area))
    reach = NormalDist().inv_cdf(0.5 + level / 2.0) * error
    lower, upper = (1.0 / (1.0 + math.exp(-middle - by)) for by in (-reach, reach))
    return Interval(area, lower, upper, level)


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
        Area under the ROC curve with its 95 % interval (for the luck of the runs that are judged,
        not of those fitted); mean squared error of the probability; slope of the logit of observed
        failure on the foretold logit (1 is right, below 1 too extreme); and foretold beside
        observed rates by fifths of the chips. Nothing when there are fewer than 20 runs, 8 failed
        or 8 good chips, or a fold lacks what it needs.

    References
    ----------
    Cox, D. R. (1958), Biometrika 45, 562-565 (calibration slope); Brier, G. W. (1950), Monthly
    Weather Review 78, 1-3.
    """
    good = int((tested - failed).sum())
    if len(design) < FEWEST_RUNS or min(int(failed.sum()), good) < FEWEST_FAILURES:
        return Quality()
    from sklearn.metrics import brier_score_loss
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
    auc = roc_area(eta, failed, tested)
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
