"""Failures by operator, mould, lot, machine and week, shrunk so that luck accuses nobody."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.model import GroupCount
from weakstep.failures.null_model import (
    Background,
    fit_null,
    indicator,
    logistic,
    overdispersion,
)
from weakstep.failures.wilson import wilson
from weakstep.interval import Interval

if TYPE_CHECKING:
    from weakstep.process.model import Process
    from weakstep.runlog.model import RunTable

LEVEL = 0.95
SPREADS = (0.05, 0.2, 0.4, 0.7, 1.1, 1.7)
FEWEST_GROUPS = 2
WEEK = "week"


def group_counts(process: Process, runs: RunTable, failed: np.ndarray) -> tuple[GroupCount, ...]:
    """
    Count failures by who ran it, by what was used and by week.

    Parameters
    ----------
    process : Process
    runs : RunTable
    failed : array of int, shape (n_runs,)
        Failed chips of every family.

    Returns
    -------
    tuple of GroupCount
        For each column that groups runs into at least two: operator, identity columns, week.
    """
    columns: dict[str, np.ndarray] = {"operator": runs.operator.astype(str)}
    for name in runs.categories.columns:
        if process.has(str(name)) and process.parameter(str(name)).role == "identity":
            columns[str(name)] = runs.categories[name].astype(str).to_numpy()
    if not np.all(np.isnat(runs.started_at)):
        columns[WEEK] = runs.week
    counted: list[GroupCount] = []
    for column, groups in columns.items():
        if column in ("run_id", "chip_id"):
            continue
        known = (runs.tested > 0) & (groups.astype(str) != "")
        if len(np.unique(groups[known])) >= FEWEST_GROUPS:
            counted += _column(column, groups[known], failed[known], runs.tested[known])
    return tuple(counted)


def _column(
    column: str, groups: np.ndarray, failed: np.ndarray, tested: np.ndarray
) -> list[GroupCount]:
    names, places = np.unique(groups, return_inverse=True)
    shrunk = shrunken_rates(places, failed, tested)
    lost = np.bincount(places, weights=failed).astype(int)
    chips = np.bincount(places, weights=tested).astype(int)
    return [
        GroupCount(
            column,
            str(name),
            int(chips[i]),
            int(lost[i]),
            wilson(int(lost[i]), int(chips[i])),
            shrunk[i],
        )
        for i, name in enumerate(names)
    ]


def shrunken_rates(places: np.ndarray, failed: np.ndarray, tested: np.ndarray) -> list[Interval]:
    r"""
    Estimate each group's failure rate with the help of the others (random effects).

    Logits of the groups are :math:`a + u_g` with :math:`u_g \sim N(0, \sigma^2)`, fitted by
    penalised likelihood to counts divided by the overdispersion between runs, for six values of
    sigma from 0.05 to 1.7, weighed by their Laplace evidence. With little to tell groups apart by,
    all are drawn to the common rate: one bad day of one person accuses nobody.

    Parameters
    ----------
    places : array of int, shape (n_runs,)
        Group of each run, numbered from 0.
    failed, tested : array of int, shape (n_runs,)
        Chips; tested at least 1.

    Returns
    -------
    list of Interval
        One per group, a share with its 95 % interval.

    References
    ----------
    Breslow, N. E. & Clayton, D. G. (1993), J. Am. Stat. Assoc. 88, 9-25 (penalised
    quasi-likelihood); Efron, B. & Morris, C. (1975), J. Am. Stat. Assoc. 70, 311-319 (why
    shrinking estimates better).
    """
    from scipy.special import ndtri

    intercept = Background(np.ones((len(places), 1)), np.array([1e-2]))
    columns = indicator(places)
    # Half a failure and half a good chip keep the logit finite where all failed, or none.
    failed, tested = failed + 0.5 / len(places), tested + 1.0 / len(places)
    phi = overdispersion(fit_null(intercept.with_columns(columns, SPREADS[-1]), failed, tested))
    fits = [
        fit_null(intercept.with_columns(columns, sd), failed / phi, tested / phi) for sd in SPREADS
    ]
    evidence = np.array([fit.log_evidence for fit in fits])
    weights = np.exp(evidence - evidence.max())
    weights /= weights.sum()
    pick = np.column_stack([np.ones(columns.shape[1]), np.eye(columns.shape[1])])
    middles = np.array([pick @ fit.coefficients for fit in fits])
    variances = np.array([np.einsum("gq,qr,gr->g", pick, fit.inverse, pick) for fit in fits])
    middle = weights @ middles
    spread = np.sqrt(weights @ (variances + middles**2) - middle**2)
    reach = float(ndtri(0.5 + LEVEL / 2.0)) * spread
    ends = [logistic(middle + side * reach) for side in (0.0, -1.0, 1.0)]
    return [
        Interval(float(m), float(low), float(high), LEVEL)
        for m, low, high in zip(*ends, strict=True)
    ]
