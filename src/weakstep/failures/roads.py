"""The odds ratios of a reported model by other roads: alone, beside time, runs as clusters."""

from __future__ import annotations

import math
import warnings

import numpy as np

from weakstep.failures.calendar import background_with_best_curves
from weakstep.failures.model import OddsByRoad, Term
from weakstep.failures.null_model import Background
from weakstep.failures.profile import firth_estimates
from weakstep.interval import Interval

LARGEST_LOG_ODDS = 15.0
WEAK_PRECISION = 1e-4
FEWEST_CLUSTERS = 10
LARGEST_CLUSTER = 100


def other_roads(
    terms: tuple[Term, ...],
    steps: list[float],
    design: np.ndarray,
    factors: int,
    failed: np.ndarray,
    tested: np.ndarray,
    *,
    exists: bool,
) -> tuple[OddsByRoad, ...]:
    """
    Estimate each factor's odds ratio again: alone, allowing for time, and with runs as clusters.

    Parameters
    ----------
    terms : tuple of Term
        Of the reported model, in the order of the columns.
    steps : list of float
        Difference that each column's odds ratio is for.
    design : array, shape (n_runs, n_columns)
        Intercept and operators first, factors last; full rank.
    factors : int
        How many of the columns are factors.
    failed, tested : array of int, shape (n_runs,)
        In time order.
    exists : bool
        Whether the unpenalised fit exists (nothing separates).

    Returns
    -------
    tuple of OddsByRoad
        One per factor.

    References
    ----------
    Liang, K.-Y. & Zeger, S. L. (1986), Biometrika 73, 13-22 (GEE); Mancl, L. A. & DeRouen, T. A.
    (2001), Biometrics 57, 126-134 (bias-reduced sandwich).
    """
    first = design.shape[1] - factors
    timed = _beside_curves(design, first, failed, tested)
    clusters = clustered_fit(design, failed, tested) if exists else None
    roads = []
    for place in range(first, design.shape[1]):
        alone = np.column_stack([design[:, 0], design[:, place]])
        step, level = steps[place], terms[place].odds_ratio.level
        roads.append(
            OddsByRoad(
                terms[place].name,
                terms[place].per,
                terms[place].odds_ratio,
                _penalised(alone, 1, step, level, failed, tested),
                None
                if timed is None
                else _penalised(timed, timed.shape[1] - factors + place - first, step, level,
                                failed, tested),
                None if clusters is None else _sandwich(clusters, place, step, level, len(design)),
            )
        )  # fmt: skip
    return tuple(roads)


def _beside_curves(
    design: np.ndarray, first: int, failed: np.ndarray, tested: np.ndarray
) -> np.ndarray | None:
    """Put the two calendar curves that failures follow most between operators and factors."""
    people = Background(design[:, :first], np.full(first, WEAK_PRECISION))
    columns = background_with_best_curves(people, failed, tested).columns
    timed = np.column_stack([columns, design[:, first:]])
    return timed if np.linalg.matrix_rank(timed) == timed.shape[1] else None


def _penalised(
    design: np.ndarray,
    column: int,
    step: float,
    level: float,
    failed: np.ndarray,
    tested: np.ndarray,
) -> Interval | None:
    if np.linalg.matrix_rank(design) < design.shape[1]:
        return None
    fit = firth_estimates(design, failed, tested, level=level)
    ends = (fit.coefficients[column], fit.lower[column], fit.upper[column])
    return _odds([float(end) * step for end in ends], level)


def _sandwich(
    fit: tuple[np.ndarray, np.ndarray], place: int, step: float, level: float, clusters: int
) -> Interval | None:
    from scipy.special import stdtrit

    coefficients, covariance = fit
    reach = float(stdtrit(max(clusters - len(coefficients), 1), 0.5 + level / 2.0))
    reach *= math.sqrt(float(covariance[place, place]))
    middle = float(coefficients[place])
    return _odds([(middle + by) * step for by in (0.0, -reach, reach)], level)


def _odds(logs: list[float], level: float) -> Interval | None:
    if max(abs(one) for one in logs) > LARGEST_LOG_ODDS:
        return None
    ratio, lower, upper = (math.exp(one) for one in logs)
    return Interval(ratio, lower, upper, level)


def clustered_fit(
    design: np.ndarray, failed: np.ndarray, tested: np.ndarray
) -> tuple[np.ndarray, np.ndarray] | None:
    """
    Fit the logit by generalised estimating equations, the chips of a run being one cluster.

    Exchangeable working correlation (independence when every run has one chip), bias-reduced
    sandwich covariance, by statsmodels.

    Parameters
    ----------
    design : array, shape (n_runs, n_columns)
    failed, tested : array of int, shape (n_runs,)

    Returns
    -------
    (coefficients, covariance) or None
        None when the equations do not converge, for fewer than 10 runs beyond the columns, and
        for runs of more than 100 chips, whose correlations would fill the memory.
    """
    from statsmodels.genmod.cov_struct import Exchangeable, Independence
    from statsmodels.genmod.families import Binomial
    from statsmodels.genmod.generalized_estimating_equations import GEE

    used = tested > 0
    if used.sum() - design.shape[1] < FEWEST_CLUSTERS or tested.max() > LARGEST_CLUSTER:
        return None
    run = np.repeat(np.flatnonzero(used), tested[used])
    pairs = zip(failed[used], tested[used], strict=True)
    outcome = np.concatenate([np.repeat([1.0, 0.0], [k, m - k]) for k, m in pairs])
    size = np.maximum(np.abs(design).max(axis=0), 1e-300)
    together = Exchangeable() if (tested > 1).any() else Independence()
    with warnings.catch_warnings():
        # Its warnings say in its own words what is judged here: whether the result is usable.
        warnings.simplefilter("ignore")
        model = GEE(
            outcome, (design / size)[run], groups=run, family=Binomial(), cov_struct=together
        )
        fit = model.fit(maxiter=100, cov_type="bias_reduced")
    covariance = np.asarray(fit.cov_params()) / np.outer(size, size)
    coefficients = np.asarray(fit.params) / size
    usable = fit.converged and np.isfinite(coefficients).all() and np.isfinite(covariance).all()
    return (coefficients, covariance) if usable and (np.diagonal(covariance) > 0).all() else None
