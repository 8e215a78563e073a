"""Firth's penalised logistic regression for runs of several chips, many fits at a time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from weakstep.errors import NotEnoughError

STEPS = 200
LARGEST_STEP = 3.0
TOLERANCE = 1e-10
MOST_IDLE = 3
HALVINGS = 20
BLOCK = 45_000
"""Numbers of a block of designs."""


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
    """

    coefficients: np.ndarray
    log_likelihood: np.ndarray
    score: np.ndarray
    covariance: np.ndarray


def firth_fits(
    designs: np.ndarray,
    failed: np.ndarray,
    tested: np.ndarray,
    *,
    held: np.ndarray | None = None,
    start: np.ndarray | None = None,
    tolerance: float = TOLERANCE,
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
    tolerance : float, default 1e-10
        Steps end when every gradient, times its standard error, is smaller, or when the value
        has gained less than the square of it several times in a row.

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
    count, runs, columns = designs.shape
    fixed = np.zeros((count, columns), dtype=bool) if held is None else held
    beta = np.zeros((count, columns)) if start is None else start.astype(float)
    # A few designs at a time stay in the processor's cache through all their steps.
    size = max(1, BLOCK // (runs * columns))
    blocks = [slice(first, first + size) for first in range(0, count, size)]
    parts = [
        _fit_block(
            designs[block],
            failed[block] if failed.ndim == 2 else failed,
            tested[block] if tested.ndim == 2 else tested,
            fixed[block],
            beta[block],
            tolerance,
        )
        for block in blocks
    ]
    return FirthFits(
        *(
            np.concatenate([getattr(one, name) for one in parts])
            for name in FirthFits.__annotations__
        )
    )


def _fit_block(
    designs: np.ndarray,
    failed: np.ndarray,
    tested: np.ndarray,
    fixed: np.ndarray,
    beta: np.ndarray,
    tolerance: float,
) -> FirthFits:
    state = evaluate(designs, failed, tested, beta)
    if np.isneginf(state.log_likelihood).any():
        message = (
            "A failure model cannot be fitted: some of its columns say the same or never vary. "
            "Leave one of them out."
        )
        raise NotEnoughError(message)
    idle = 0
    for _ in range(STEPS):
        score = np.where(fixed, 0.0, state.score)
        if np.abs(score * standard_errors(state)).max(initial=0.0) < tolerance or idle == MOST_IDLE:
            break
        before = state.log_likelihood
        state = _climb(designs, failed, tested, state, _newton_step(state, score, fixed))
        # Far out, where all probabilities are 0 or 1, steps gain ever less and never arrive.
        least = tolerance**2 * (1.0 + np.abs(before).max())
        gained = (state.log_likelihood - before).max() > least
        idle = 0 if gained else idle + 1
    return state


def standard_errors(state: FirthFits) -> np.ndarray:
    """Return sqrt of the diagonal of each covariance, shape (n_fits, n_columns)."""
    return np.asarray(np.sqrt(np.einsum("bqq->bq", state.covariance)))


def evaluate(
    designs: np.ndarray, failed: np.ndarray, tested: np.ndarray, beta: np.ndarray
) -> FirthFits:
    """Return value, gradient and covariance at these coefficients, without a step."""
    eta = (designs @ beta[:, :, None])[:, :, 0]
    # One exponential, of what cannot overflow, serves probability, weight and likelihood.
    small = np.exp(-np.abs(eta))
    # Below that, probabilities are 0 or 1 to the last digit.
    small[small < 1e-16] = 0.0
    probability = np.where(eta < 0.0, small, 1.0) / (1.0 + small)
    weights = tested * small / (1.0 + small) ** 2
    weighted = designs * weights[:, :, None]
    information = designs.transpose(0, 2, 1) @ weighted
    sign, log_det = np.linalg.slogdet(information)
    singular = (sign <= 0) | ~np.isfinite(log_det)
    # Where all probabilities are 0 or 1 to the last digit the value is minus infinity, and the
    # step that led there is halved.
    log_det = np.where(singular, -np.inf, log_det)
    information[singular] = np.eye(designs.shape[2])
    covariance = np.linalg.inv(information)
    leverage = np.einsum("bnq,bnq->bn", weighted @ covariance, designs)
    residual = failed - tested * probability + leverage * (0.5 - probability)
    score = (residual[:, None, :] @ designs)[:, 0]
    softplus = np.maximum(eta, 0.0) + np.log1p(small)
    likelihood = (failed * eta - tested * softplus).sum(axis=1) + 0.5 * log_det
    return FirthFits(beta, likelihood, score, covariance)


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
    longest = np.abs(step / standard_errors(state)).max(axis=1, initial=1e-300)
    return np.asarray(step * np.minimum(1.0, LARGEST_STEP / longest)[:, None])


def _climb(
    designs: np.ndarray,
    failed: np.ndarray,
    tested: np.ndarray,
    state: FirthFits,
    step: np.ndarray,
) -> FirthFits:
    size = np.ones(len(step))
    slack = 1e-12 * (1.0 + np.abs(state.log_likelihood))
    for _ in range(HALVINGS):
        trial = evaluate(designs, failed, tested, state.coefficients + size[:, None] * step)
        worse = trial.log_likelihood < state.log_likelihood - slack
        if not worse.any():
            return trial
        size = np.where(worse, size / 2.0, size)
    # No step helps: rounding is all that is left, so these stay where they are.
    size = np.where(worse, 0.0, size)
    return evaluate(designs, failed, tested, state.coefficients + size[:, None] * step)
