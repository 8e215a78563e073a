"""Failures explained by who ran it (and when) alone: what a factor must beat."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

OPERATOR_SD = 0.5
OPERATOR_SDS = (0.5, 0.9, 1.5)
SLOPE_SD = 2.0
STEPS = 50
TOLERANCE = 1e-8
WEEK_SDS = (0.5, 0.75, 1.1, 1.6, 2.4)


@dataclass(frozen=True, eq=False)
class Background:
    """
    Columns of the null model and how strongly each coefficient is drawn to 0.

    Attributes
    ----------
    columns : array, shape (n_runs, n_columns)
    precision : array, shape (n_columns,)
        1 / sd^2 of the normal prior of each coefficient; 0 for none.
    """

    columns: np.ndarray
    precision: np.ndarray

    def with_columns(self, columns: np.ndarray, sd: float) -> Background:
        """Return the background with further *columns* whose coefficients have prior *sd*."""
        block = columns.reshape(len(self.columns), -1)
        return Background(
            np.column_stack([self.columns, block]),
            np.concatenate([self.precision, np.full(block.shape[1], sd**-2)]),
        )


@dataclass(frozen=True, eq=False)
class NullFit:
    """
    A fitted null model.

    Attributes
    ----------
    background : Background
    coefficients : array, shape (n_columns,)
    probability, weights, residuals : array, shape (n_runs,)
        Fitted failure probability p, m p (1 - p), and Pearson residuals.
    inverse : array, shape (n_columns, n_columns)
        Inverse of the penalised information.
    log_evidence : float
        Laplace approximation of log marginal likelihood, up to a constant of the data.
    """

    background: Background
    coefficients: np.ndarray
    probability: np.ndarray
    weights: np.ndarray
    residuals: np.ndarray
    inverse: np.ndarray
    log_evidence: float

    def project(self, columns: np.ndarray) -> np.ndarray:
        """
        Return *columns*, shape (n_runs, k), free of what the null model explains, times sqrt(w).

        With Z the null columns, W the weights and L the prior precisions:
        W^(1/2) (X - Z (Z'WZ + L)^(-1) Z'WX).
        """
        z = self.background.columns
        # One large array is made and then changed in place: long logs have wide tables.
        left = z @ (self.inverse @ ((z * self.weights[:, None]).T @ columns))
        np.subtract(columns, left, out=left)
        left *= np.sqrt(self.weights)[:, None]
        return np.asarray(left)


def operator_background(operator: np.ndarray) -> Background:
    """
    Return intercept and one column per operator, the latter as random effects.

    Parameters
    ----------
    operator : array, shape (n_runs,)
        Who ran it; one operator only gives the intercept alone.

    Returns
    -------
    Background
        Operator effects have prior sd 0.5 on the logit scale.
    """
    return _with_operators(operator, OPERATOR_SD)


def _with_operators(operator: np.ndarray, sd: float) -> Background:
    intercept = Background(np.ones((len(operator), 1)), np.array([1e-4]))
    names, codes = np.unique(operator, return_inverse=True)
    if len(names) < 2:
        return intercept
    return intercept.with_columns(indicator(codes), sd)


def fitted_operator_background(
    operator: np.ndarray, failed: np.ndarray, tested: np.ndarray
) -> Background:
    """
    Return intercept and operators, how much these differ being chosen by the failures.

    Parameters
    ----------
    operator : array, shape (n_runs,)
    failed, tested : array, shape (n_runs,)

    Returns
    -------
    Background
        With the prior sd of operator effects, at least 0.5, that has the largest Laplace evidence.
    """
    backgrounds = [_with_operators(operator, sd) for sd in OPERATOR_SDS]
    return max(backgrounds, key=lambda one: fit_null(one, failed, tested).log_evidence)


def indicator(codes: np.ndarray) -> np.ndarray:
    """Return one 0/1 column per distinct code, shape (n_runs, n_codes)."""
    return np.asarray(codes[:, None] == np.unique(codes)[None, :], dtype=float)


def fit_null(background: Background, failed: np.ndarray, tested: np.ndarray) -> NullFit:
    """
    Fit the penalised binomial logit of failed out of tested.

    Maximises sum k eta - m log(1 + exp eta) - sum precision b^2 / 2 by Newton steps, halved until
    the value does not fall.

    Parameters
    ----------
    background : Background
    failed, tested : array of int, shape (n_runs,)
        0 < sum failed < sum tested.

    Returns
    -------
    NullFit
    """
    z, precision = background.columns, background.precision
    coefficients = np.zeros(z.shape[1])
    rate = failed.sum() / tested.sum()
    coefficients[0] = np.log(rate / (1.0 - rate))
    value = _penalised(z, precision, coefficients, failed, tested)
    for _ in range(STEPS):
        probability = logistic(z @ coefficients)
        weights = tested * probability * (1.0 - probability)
        information = (z * weights[:, None]).T @ z + np.diag(precision)
        score = z.T @ (failed - tested * probability) - precision * coefficients
        step = np.linalg.solve(information, score)
        size = 1.0
        while size > 1e-4:
            trial = coefficients + size * step
            trial_value = _penalised(z, precision, trial, failed, tested)
            if trial_value >= value - 1e-12:
                break
            size /= 2.0
        coefficients, gain, value = trial, trial_value - value, trial_value
        if abs(gain) < TOLERANCE:
            break
    return _finished(background, coefficients, failed, tested)


def _finished(
    background: Background, coefficients: np.ndarray, failed: np.ndarray, tested: np.ndarray
) -> NullFit:
    z, precision = background.columns, background.precision
    probability = logistic(z @ coefficients)
    weights = np.maximum(tested * probability * (1.0 - probability), 1e-10)
    information = (z * weights[:, None]).T @ z + np.diag(precision)
    residuals = (failed - tested * probability) / np.sqrt(weights)
    evidence = _penalised(z, precision, coefficients, failed, tested)
    evidence += 0.5 * (np.log(precision).sum() - np.linalg.slogdet(information)[1])
    return NullFit(
        background,
        coefficients,
        probability,
        weights,
        residuals,
        np.linalg.inv(information),
        float(evidence),
    )


def _penalised(
    z: np.ndarray,
    precision: np.ndarray,
    coefficients: np.ndarray,
    failed: np.ndarray,
    tested: np.ndarray,
) -> float:
    eta = z @ coefficients
    likelihood = (failed * eta - tested * np.logaddexp(0.0, eta)).sum()
    return float(likelihood - 0.5 * (precision * coefficients**2).sum())


def fit_null_with_weeks(
    background: Background, week: np.ndarray, failed: np.ndarray, tested: np.ndarray
) -> NullFit:
    """
    Fit the null model with random week effects whose spread the data choose.

    Parameters
    ----------
    background : Background
    week : array of int, shape (n_runs,)
        Week, or block of neighbouring runs, of each run.
    failed, tested : array of int, shape (n_runs,)

    Returns
    -------
    NullFit
        With the prior sd of week effects, at least 0.5, that has the largest Laplace evidence.
    """
    columns = indicator(week)
    fits = (fit_null(background.with_columns(columns, sd), failed, tested) for sd in WEEK_SDS)
    return max(fits, key=lambda fit: fit.log_evidence)


def logistic(eta: np.ndarray) -> np.ndarray:
    """Return 1 / (1 + exp(-eta)), without overflow."""
    return np.asarray(0.5 * (1.0 + np.tanh(0.5 * eta)))


def overdispersion(fit: NullFit) -> float:
    """
    Return how much more runs differ than chance allows, at least 1.

    phi = max(1, Pearson chi-square / degrees of freedom), the degrees of freedom being runs less
    the effective number of coefficients, trace of (Z'WZ + L)^(-1) Z'WZ. (McCullagh, P. & Nelder,
    J. A. 1989, Generalized Linear Models, section 4.5.)
    """
    z = fit.background.columns
    used = np.trace(fit.inverse @ ((z * fit.weights[:, None]).T @ z))
    freedom = max(len(z) - float(used), 1.0)
    return max(1.0, float((fit.residuals**2).sum()) / freedom)
