"""What the failure analysis is compared with: simpler methods, and an oracle."""

from __future__ import annotations

from typing import Protocol

import numpy as np

from weakstep.failures.null_model import Background, fit_null, operator_background
from weakstep.failures.permuting import draw_orders, score, share_reaching
from weakstep.runlog.model import RunLog


class HasLog(Protocol):
    """A simulated semester."""

    log: RunLog


class HasCurves(HasLog, Protocol):
    """A simulated semester that knows each parameter's shape, were it the cause."""

    curves: np.ndarray


def oracle(one: HasCurves, seed: int) -> tuple[int, bool]:
    """
    Name and claim with one true shape per parameter, same null model and permutations.

    It also knows in which direction each parameter would act, and the values that nobody logged.
    """
    return _by_true_shapes(one, one.curves, seed, directions=True)


def oracle_of_shapes(one: HasCurves, seed: int) -> tuple[int, bool]:
    """Name and claim as the oracle, from logged values alone and not knowing directions."""
    numbers = one.log.runs.numbers.to_numpy()
    curves = one.curves.copy()
    logged = ~np.isnan(numbers)
    shown = np.where(logged, curves[:, : numbers.shape[1]], np.nan)
    curves[:, : numbers.shape[1]] = np.where(logged, shown - np.nanmean(shown, axis=0), 0.0)
    return _by_true_shapes(one, curves, seed, directions=False)


def _by_true_shapes(
    one: HasCurves, curves: np.ndarray, seed: int, *, directions: bool
) -> tuple[int, bool]:
    runs = one.log.runs
    strata = np.unique(runs.operator, return_inverse=True)[1]
    fit = fit_null(operator_background(runs.operator), runs.failed["bond"], runs.tested)
    orders = draw_orders(strata, 999, np.random.default_rng(seed))
    result = score(
        fit.project(curves),
        fit.residuals,
        np.arange(curves.shape[1]),
        np.full(curves.shape[1], 1.0 if directions else 0.5),
        orders,
    )
    p = share_reaching(result.by_chance.max(axis=0), result.strength)
    first = int(np.argmax(result.strength))
    return first, bool(p[first] <= 0.05)


def linear_wald(one: HasLog) -> tuple[int, bool]:
    """Name and claim by one linear logit per parameter beside operators, Wald, Bonferroni."""
    from scipy.stats import norm

    runs = one.log.runs
    parameters = runs.numbers.shape[1]
    names, codes = np.unique(runs.operator, return_inverse=True)
    dummies = (codes[:, None] == np.arange(1, len(names))[None, :]).astype(float)
    z = np.zeros(parameters)
    for j, column in enumerate(runs.numbers.to_numpy().T):
        known = ~np.isnan(column)
        x = (column[known] - column[known].mean()) / column[known].std()
        design = np.column_stack([np.ones(known.sum()), x, dummies[known]])
        # Priors this wide leave the maximum-likelihood fit, and a finite one where none exists.
        plain = Background(design, np.full(design.shape[1], 1e-6))
        fit = fit_null(plain, runs.failed["bond"][known], runs.tested[known])
        z[j] = abs(fit.coefficients[1]) / np.sqrt(fit.inverse[1, 1])
    first = int(np.argmax(z))
    return first, bool(2.0 * norm.sf(z[first]) <= 0.05 / parameters)


def rank_tests(one: HasLog) -> tuple[int, bool]:
    """Name and claim by Spearman's rank correlation with the failure rate, Bonferroni."""
    from scipy.stats import spearmanr

    runs = one.log.runs
    rate = runs.failed["bond"] / runs.tested
    columns = runs.numbers.to_numpy().T
    known = [~np.isnan(column) for column in columns]
    p = np.array([spearmanr(x[k], rate[k]).pvalue for x, k in zip(columns, known, strict=True)])
    first = int(np.argmin(p))
    return first, bool(p[first] <= 0.05 / len(p))


def forest(one: HasLog, seed: int) -> int:
    """Name the column with the largest permutation importance in a random forest."""
    from sklearn.ensemble import RandomForestRegressor
    from sklearn.inspection import permutation_importance

    runs = one.log.runs
    columns = runs.numbers.to_numpy()
    filled = np.where(np.isnan(columns), np.nanmedian(columns, axis=0), columns)
    rate = runs.failed["bond"] / runs.tested
    grown = RandomForestRegressor(200, min_samples_leaf=3, oob_score=False, random_state=seed)
    grown.fit(filled, rate, sample_weight=runs.tested)
    importance = permutation_importance(grown, filled, rate, n_repeats=5, random_state=seed)
    return int(np.argmax(importance.importances_mean))
