"""Intervals and p-values of Firth's regression from the profile of its penalised likelihood."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from weakstep.failures.firth import FirthFits, evaluate, firth_fits, standard_errors
from weakstep.failures.null_model import logistic

ROOT_STEPS = 60
# The value is then right to 1e-9, and so is the end to a tiny part of its standard error.
PROFILE_TOLERANCE = 1e-5


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
        np.repeat(design[None], len(columns), axis=0),
        failed,
        tested,
        np.repeat(fits.coefficients, len(columns), axis=0),
        columns,
        np.full(len(columns), phi),
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
    variance = np.maximum(tested * probability * (1.0 - probability), 1e-10)
    chi2 = ((failed - tested * probability)[used] ** 2 / variance[used]).sum()
    return max(1.0, float(chi2 / max(int(used.sum()) - design.shape[1], 1)))


def likelihood_ratio_p(
    design: np.ndarray, failed: np.ndarray, tested: np.ndarray, fits: FirthFits, phi: float
) -> np.ndarray:
    """Return the p-value of each column: penalised likelihood ratio with it held at 0."""
    from scipy.special import chdtrc

    columns = design.shape[1]
    held = np.eye(columns, dtype=bool)
    designs = np.repeat(design[None], columns, axis=0)
    without = firth_fits(designs, failed, tested, held=held)
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
    full = evaluate(designs, failed, tested, estimates)
    drop = 0.5 * phi * NormalDist().inv_cdf(0.5 + level / 2.0) ** 2
    rows = np.arange(len(columns))
    se = standard_errors(full)[rows, columns]
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
    path = np.einsum("bqr,br->bq", full.covariance, held.astype(float))
    # The other coefficients start where they go for a small move of the held one, so that the
    # fitted probabilities stay sensible whatever the origin of the columns.
    path = path / path[held][:, None]
    fit = full
    for _ in range(ROOT_STEPS):
        for _ in range(ROOT_STEPS):
            shift = centre + direction * move - fit.coefficients[held]
            start = fit.coefficients + path * shift[:, None]
            bottomless = np.isneginf(evaluate(designs, failed, tested, start).log_likelihood)
            if not bottomless.any():
                break
            outer = np.where(bottomless, np.minimum(outer, move), outer)
            move = np.where(bottomless, 0.5 * (inner + move), move)
        fit = firth_fits(
            designs, failed, tested, held=held, start=start, tolerance=PROFILE_TOLERANCE
        )
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
