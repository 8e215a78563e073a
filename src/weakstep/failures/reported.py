"""The failure model that is reported: penalised logit, beside the ordinary one where it exists."""

from __future__ import annotations

import math
import warnings

import numpy as np

from weakstep.failures.model import FailureModel, Term
from weakstep.failures.odds import independent_columns
from weakstep.failures.profile import Estimates, firth_estimates
from weakstep.failures.roads import other_roads
from weakstep.failures.separation import (
    dependent_columns,
    nearly_dependent_columns,
    separating_columns,
)
from weakstep.failures.terms import Column
from weakstep.failures.validation import cross_validate
from weakstep.interval import Interval

LEVEL = 0.95


def fit_reported(
    family: str,
    columns: list[Column],
    background: np.ndarray,
    background_names: list[str],
    failed: np.ndarray,
    tested: np.ndarray,
    notes: tuple[str, ...],
    seed: int,
) -> FailureModel:
    """
    Fit the reported model of one family.

    Parameters
    ----------
    family : str
    columns : list of Column
        Claimed factors.
    background : array, shape (n_runs, n_background)
        Intercept and operators.
    background_names : list of str
    failed, tested : array of int, shape (n_runs,)
    notes : tuple of str
    seed : int
        For the folds of the cross-validation.

    Returns
    -------
    FailureModel
        On the runs that logged every factor of the model.
    """
    values = np.column_stack([column.values for column in columns])
    used = ~np.isnan(values).any(axis=1)
    present = independent_columns(background, used)
    design = np.column_stack([background[used][:, present], values[used]])
    names = [name for name, here in zip(background_names, present, strict=True) if here]
    k, m = failed[used], tested[used]
    if used.sum() < len(used):
        out = int((~used).sum())
        said = "1 run that did not log it is" if out == 1 else f"{out} runs that did not log it are"
        notes = (*notes, f"{said} left out.")
    steps = [1.0] * len(names) + [column.step for column in columns]
    pers = [""] * len(names) + [column.per for column in columns]
    all_names = names + [column.name for column in columns]
    same = dependent_columns(design, all_names)
    if same:
        why = f"Not fitted: these columns say the same in every run: {', '.join(same)}."
        return FailureModel(family, (), None, (), None, None, None, (*notes, why))
    estimates = firth_estimates(design, k, m, level=LEVEL)
    separated = separating_columns(design, all_names, k, m)
    quality = cross_validate(design, k, m, seed)
    terms = _terms(estimates, all_names, steps, pers)
    return FailureModel(
        family,
        terms,
        None if separated else _unpenalised(design, all_names, k, m),
        separated,
        quality.auc,
        quality.brier,
        quality.slope,
        (*notes, *_warnings(estimates.phi, separated, design, all_names)),
        other_roads(terms, steps, design, len(columns), k, m, exists=not separated),
        quality.groups,
    )


def _warnings(
    phi: float, separated: tuple[str, ...], design: np.ndarray, names: list[str]
) -> list[str]:
    """Say in a sentence each, naming columns, what weakens the fit."""
    said = []
    if phi > 1.0:
        said.append(
            "Failures come together in runs: intervals are widened by a factor of "
            f"{np.sqrt(phi):.2f}."
        )
    if separated:
        said.append(f"Good and failed are separated completely by: {', '.join(separated)}.")
    nearly = nearly_dependent_columns(_centred(design), names)
    if nearly:
        said.append(f"These columns nearly say the same, so neither can be judged: "
                    f"{', '.join(nearly)}.")  # fmt: skip
    return said


def _centred(design: np.ndarray) -> np.ndarray:
    """Take the mean off every column but the intercept: the origin of a unit is no likeness."""
    return np.column_stack([design[:, 0], design[:, 1:] - design[:, 1:].mean(axis=0)])


def _terms(
    fit: Estimates, names: list[str], steps: list[float], pers: list[str]
) -> tuple[Term, ...]:
    terms = []
    for i, (name, step, per) in enumerate(zip(names, steps, pers, strict=True)):
        middle, low, high = float(fit.coefficients[i]), float(fit.lower[i]), float(fit.upper[i])
        coefficient = Interval(middle, low, high, fit.level)
        # Intercepts of raw units can pass what a float holds as odds.
        ratio, least, most = (math.exp(min(end * step, 700.0)) for end in (middle, low, high))
        odds = Interval(ratio, least, most, fit.level)
        terms.append(Term(name, coefficient, odds, per, float(fit.p[i])))
    return tuple(terms)


def _unpenalised(
    design: np.ndarray, names: list[str], failed: np.ndarray, tested: np.ndarray
) -> tuple[tuple[str, float, float], ...]:
    """Fit the same model without penalty by statsmodels (it exists when nothing separates)."""
    # The two modules that are needed load three times as fast as statsmodels.api.
    from statsmodels.genmod.families import Binomial
    from statsmodels.genmod.generalized_linear_model import GLM

    with warnings.catch_warnings():
        # Nearly separated runs make it warn; they are named by our own test.
        warnings.simplefilter("ignore")
        model = GLM(np.column_stack([failed, tested - failed]), design, family=Binomial())
        fit = model.fit(maxiter=100, tol=1e-12)
    rows = zip(names, fit.params, fit.bse, strict=True)
    return tuple((name, float(value), float(error)) for name, value, error in rows)
