"""Firth's penalised logistic regression for runs of several chips, many fits at a time."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from weakstep.errors import NotEnoughError
from weakstep.failures.null_model import logistic

STEPS = 200
LARGEST_STEP = 3.0
TOLERANCE = 1e-10
ROOT_STEPS = 60


@dataclass(frozen=True, eq=False)
class FirthFits:
    """
    Several fits of the same shape.

    Attributes
    ----------
    coefficients : array, shape (n_fits, n_columns)
    log_likelihood : array, shape (n_fits,)
        Penalised: l(b) + log|X'WX| / 2.
    score : array, shape (n_fits, n_columns)
        Gradient of the penalised likelihood; not 0 only where a coefficient was held.
    covariance : array, shape (n_fits, n_columns, n_columns)
        Inverse of the (unpenalised) Fisher information at the estimate.
    leverage : array, shape (n_fits, n_runs)
    """

    coefficients: np.ndarray
    log_likelihood: np.ndarray
    score: np.ndarray
    covariance: np.ndarray
    leverage: np.ndarray


@dataclass(frozen=True, eq=False)
class Estimates:
    """
    Penalised estimates of one model with profile intervals and likelihood-ratio p-values.

    Attributes
    ----------
    coefficients, standard_errors, lower, upper, p : array, shape (n_columns,)
    log_likelihood : float
        Penalised.
    phi : float
        Overdispersion between runs that widened the intervals (1: none).
    level : float
    """

    coefficients: np.ndarray
    standard_errors: np.ndarray
    lower: np.ndarray
    upper: np.ndarray
    p: np.ndarray
    log_likelihood: float
    phi: float
    level: float


def firth_fits(
    designs: np.ndarray,
    failed: np.ndarray,
    tested: np.ndarray,
    *,
    held: np.ndarray | None = None,
    start: np.ndarray | None = None,
) -> FirthFits:
    r"""
    Maximise the penalised likelihood of many designs at once.

    .. math:: \ell(b) + \tfrac12 \log |X^T W X|, \qquad W = m p (1 - p)

    by Newton steps with the modified score
    :math:`X^T (k - m p + h (\tfrac12 - p))`, h being the leverages of the runs. The maximum
    exists also when a column separates failed from good completely.

    Parameters
    ----------
    designs : array, shape (n_fits, n_runs, n_columns)
        Full column rank each; no NaN.
    failed, tested : array, shape (n_runs,) or (n_fits, n_runs)
        Failures k of m chips; a run with m = 0 counts for nothing.
    held : array of bool, shape (n_fits, n_columns), optional
        Coefficients kept at their start value (profile likelihood); the penalty is still that of
        the whole model.
    start : array, shape (n_fits, n_columns), optional

    Returns
    -------
    FirthFits

    Raises
    ------
    NotEnoughError
        A design whose columns depend on each other.

    References
    ----------
    Firth, D. (1993), Biometrika 80, 27-38; Heinze, G. & Schemper, M. (2002), Statistics in
    Medicine 21, 2409-2419.

    Examples
    --------
    Three failures of ten chips: the estimate is log((3 + 1/2) / (7 + 1/2)).

    >>> fits = firth_fits(np.ones((1, 1, 1)), np.array([3]), np.array([10]))
    >>> round(float(fits.coefficients[0, 0]), 6), round(float(np.log(3.5 / 7.5)), 6)
    (-0.76214, -0.76214)
    """
    count, _, columns = designs.shape
    fixed = np.zeros((count, columns), dtype=bool) if held is None else held
    beta = np.zeros((count, columns)) if start is None else start.astype(float).copy()
    state = _evaluate(designs, failed, tested, beta)
    for _ in range(STEPS):
        score = np.where(fixed, 0.0, state.score)
        if np.abs(score * _scale(state)).max(initial=0.0) < TOLERANCE:
            break
        step = _newton_step(state, score, fixed)
        state = _climb(designs, failed, tested, state, step)
    return state


def _scale(state: FirthFits) -> np.ndarray:
    return np.sqrt(np.einsum("bqq->bq", state.covariance))


def _evaluate(
    designs: np.ndarray, failed: np.ndarray, tested: np.ndarray, beta: np.ndarray
) -> FirthFits:
    eta = np.einsum("bnq,bq->bn", designs, beta)
    probability = logistic(eta)
    weights = tested * probability * (1.0 - probability)
    weighted = designs * weights[:, :, None]
    information = designs.transpose(0, 2, 1) @ weighted
    sign, log_det = np.linalg.slogdet(information)
    if not (np.all(sign > 0) and np.all(np.isfinite(log_det))):
        message = (
            "A failure model cannot be fitted: some of its columns say the same or never vary. "
            "Leave one of them out."
        )
        raise NotEnoughError(message)
    covariance = np.linalg.inv(information)
    leverage = np.einsum("bnq,bnq->bn", weighted @ covariance, designs)
    residual = failed - tested * probability + leverage * (0.5 - probability)
    score = np.einsum("bnq,bn->bq", designs, residual)
    likelihood = (failed * eta - tested * np.logaddexp(0.0, eta)).sum(axis=1) + 0.5 * log_det
    return FirthFits(beta, likelihood, score, covariance, leverage)


def _newton_step(state: FirthFits, score: np.ndarray, fixed: np.ndarray) -> np.ndarray:
    if not fixed.any():
        step = np.einsum("bqr,br->bq", state.covariance, score)
    else:
        information = np.linalg.inv(state.covariance)
        free = ~fixed
        masked = information * (free[:, :, None] & free[:, None, :])
        masked += np.eye(fixed.shape[1]) * fixed[:, None, :]
        step = np.linalg.solve(masked, score[:, :, None])[:, :, 0]
    # Steps are bounded in standard errors, so that the unit of a column does not matter.
    longest = np.abs(step / _scale(state)).max(axis=1, initial=1e-300)
    return step * np.minimum(1.0, LARGEST_STEP / longest)[:, None]


def _climb(
    designs: np.ndarray,
    failed: np.ndarray,
    tested: np.ndarray,
    state: FirthFits,
    step: np.ndarray,
) -> FirthFits:
    size = np.ones(len(step))
    for _ in range(30):
        trial = _evaluate(designs, failed, tested, state.coefficients + size[:, None] * step)
        slack = 1e-12 * (1.0 + np.abs(state.log_likelihood))
        worse = trial.log_likelihood < state.log_likelihood - slack
        if not worse.any():
            break
        size = np.where(worse, size / 2.0, size)
    return trial


def firth_estimates(
    design: np.ndarray,
    failed: np.ndarray,
    tested: np.ndarray,
    *,
    level: float = 0.95,
    clustered: bool = True,
) -> Estimates:
    """
    Estimate one model with profile penalised-likelihood intervals.

    Parameters
    ----------
    design : array, shape (n_runs, n_columns)
        With its intercept column.
    failed, tested : array of int, shape (n_runs,)
    level : float, default 0.95
    clustered : bool, default True
        Widen intervals and p-values by the overdispersion between runs (likelihood ratios are
        divided by phi), because chips of one run fail together.

    Returns
    -------
    Estimates

    References
    ----------
    Heinze, G. & Schemper, M. (2002), Statistics in Medicine 21, 2409-2419, section 2.

    Examples
    --------
    >>> design = np.column_stack([np.ones(4), [0.0, 0.0, 1.0, 1.0]])
    >>> fit = firth_estimates(design, np.array([0, 1, 3, 4]), np.array([4, 4, 4, 4]))
    >>> bool(fit.lower[1] < fit.coefficients[1] < fit.upper[1])
    True
    """
    fits = firth_fits(design[None], failed, tested)
    phi = cluster_factor(design, fits.coefficients[0], failed, tested) if clustered else 1.0
    columns = np.arange(design.shape[1])
    lower, upper = profile_ends(
        np.repeat(design[None], len(columns), axis=0), failed, tested,
        np.repeat(fits.coefficients, len(columns), axis=0), columns, np.full(len(columns), phi),
        level,
    )
    p = likelihood_ratio_p(design, failed, tested, fits, phi)
    return Estimates(
        fits.coefficients[0],
        np.sqrt(phi * np.diagonal(fits.covariance[0])),
        lower,
        upper,
        p,
        float(fits.log_likelihood[0]),
        phi,
        level,
    )


def cluster_factor(
    design: np.ndarray, coefficients: np.ndarray, failed: np.ndarray, tested: np.ndarray
) -> float:
    """
    Return phi = max(1, Pearson chi-square / (runs - columns)); 1 when all runs have one chip.

    With one chip a run the statistic says nothing about chips that fail together (McCullagh &
    Nelder 1989, section 4.5).
    """
    used = tested > 0
    if not (tested > 1).any():
        return 1.0
    probability = logistic(design @ coefficients)
    variance = tested * probability * (1.0 - probability)
    chi2 = ((failed - tested * probability)[used] ** 2 / variance[used]).sum()
    return max(1.0, float(chi2) / max(int(used.sum()) - design.shape[1], 1))


def likelihood_ratio_p(
    design: np.ndarray, failed: np.ndarray, tested: np.ndarray, fits: FirthFits, phi: float
) -> np.ndarray:
    """Return the p-value of each column: penalised likelihood ratio with it held at 0."""
    from scipy.special import chdtrc

    columns = design.shape[1]
    held = np.eye(columns, dtype=bool)
    start = np.where(held, 0.0, fits.coefficients)
    designs = np.repeat(design[None], columns, axis=0)
    without = firth_fits(designs, failed, tested, held=held, start=start)
    ratio = 2.0 * (fits.log_likelihood[0] - without.log_likelihood)
    return np.asarray(chdtrc(1.0, np.maximum(ratio, 0.0) / phi))


def profile_ends(
    designs: np.ndarray,
    failed: np.ndarray,
    tested: np.ndarray,
    estimates: np.ndarray,
    columns: np.ndarray,
    phi: np.ndarray,
    level: float,
) -> tuple[np.ndarray, np.ndarray]:
    """
    Find where the profile likelihood of one column of each fit has fallen far enough.

    Parameters
    ----------
    designs : array, shape (n_fits, n_runs, n_columns)
    failed, tested : array, shape (n_runs,) or (n_fits, n_runs)
    estimates : array, shape (n_fits, n_columns)
        Unrestricted maxima.
    columns : array of int, shape (n_fits,)
        Which coefficient of each fit.
    phi : array, shape (n_fits,)
        Overdispersion.
    level : float

    Returns
    -------
    lower, upper : array, shape (n_fits,)
    """
    full = _evaluate(designs, failed, tested, estimates)
    drop = 0.5 * phi * NormalDist().inv_cdf(0.5 + level / 2.0) ** 2
    rows = np.arange(len(columns))
    se = _scale(full)[rows, columns]
    held = np.zeros(estimates.shape, dtype=bool)
    held[rows, columns] = True
    ends = [
        _profile_end(designs, failed, tested, full, held, side * se * np.sqrt(2.0 * drop), drop)
        for side in (-1.0, 1.0)
    ]
    return ends[0], ends[1]


def _profile_end(
    designs: np.ndarray,
    failed: np.ndarray,
    tested: np.ndarray,
    full: FirthFits,
    held: np.ndarray,
    first_move: np.ndarray,
    drop: np.ndarray,
) -> np.ndarray:
    """Newton on the profile, whose slope is the held score, kept inside a shrinking bracket."""
    centre = full.coefficients[held]
    target = full.log_likelihood - drop
    inner, outer = np.zeros(len(centre)), np.full(len(centre), np.inf)
    direction, move = np.sign(first_move), np.abs(first_move)
    start = full.coefficients
    for _ in range(ROOT_STEPS):
        start = np.where(held, (centre + direction * move)[:, None], start)
        fit = firth_fits(designs, failed, tested, held=held, start=start)
        start = fit.coefficients
        excess = fit.log_likelihood - target
        if np.abs(excess).max() < 1e-9:
            break
        inner = np.where(excess > 0, np.maximum(inner, move), inner)
        outer = np.where(excess < 0, np.minimum(outer, move), outer)
        slope = fit.score[held] * direction
        newton = move - excess / np.where(slope < 0, slope, -np.inf)
        middle = np.where(np.isfinite(outer), 0.5 * (inner + outer), 2.0 * move)
        inside = (newton > inner) & (newton < np.minimum(outer, 4.0 * move)) & (slope < 0)
        move = np.where(inside, newton, middle)
    return np.asarray(centre + direction * move)
