"""Odds ratios per a unit that means something, adjusted for who ran it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.firth import firth_fits
from weakstep.failures.profile import cluster_factor, profile_ends
from weakstep.failures.terms import linear_column
from weakstep.interval import Interval

if TYPE_CHECKING:
    from weakstep.failures.candidates import Candidate
    from weakstep.failures.links import Link

LEVEL = 0.95
LARGEST_LOG_ODDS = 15.0


def operator_columns(strata: np.ndarray) -> np.ndarray:
    """Return intercept and one 0/1 column per group of operators but the largest group."""
    groups, counts = np.unique(strata, return_counts=True)
    others = [group for group in groups if group != groups[np.argmax(counts)]]
    columns = [(strata == group).astype(float) for group in others]
    return np.column_stack([np.ones(len(strata)), *columns])


def independent_columns(background: np.ndarray, used: np.ndarray) -> np.ndarray:
    """
    Return which columns of intercept and operators to keep when only some runs are used.

    Operators without such a run drop out, and one more when all runs of the reference do.
    """
    keep = background[used].any(axis=0)
    if keep.sum() > 1 and np.linalg.matrix_rank(background[used][:, keep]) < keep.sum():
        keep[np.flatnonzero(keep)[-1]] = False
    return np.asarray(keep)


def odds_ratios(
    candidates: tuple[Candidate, ...],
    links: tuple[Link, ...],
    strata: np.ndarray,
    failed: np.ndarray,
    tested: np.ndarray,
) -> list[tuple[Interval | None, str]]:
    """
    Estimate one odds ratio per factor by Firth's method, beside operator effects.

    Parameters
    ----------
    candidates : tuple of Candidate
    links : tuple of Link
        In the same order.
    strata : array of int, shape (n_runs,)
    failed, tested : array of int, shape (n_runs,)

    Returns
    -------
    list of (Interval or None, str)
        95 % profile penalised-likelihood intervals widened by the overdispersion between runs; None
        where the factor cannot be told from who ran it, or has no finite interval.
    """
    background = operator_columns(strata)
    terms = [linear_column(one, link) for one, link in zip(candidates, links, strict=True)]
    results: list[tuple[Interval | None, str]] = [(None, term.per) for term in terms]
    alike: dict[tuple[bool, ...], list[_Fit]] = {}
    for index, term in enumerate(terms):
        fit = _prepare(index, term.values, background)
        if fit is not None:
            alike.setdefault(fit.present, []).append(fit)
    # Columns that the same operators logged have designs of the same shape: fitted together.
    for fits in alike.values():
        intervals = _intervals(fits, failed, tested)
        for fit, logs in zip(fits, intervals, strict=True):
            per_step = logs / fit.scale * terms[fit.index].step
            if np.abs(per_step).max() <= LARGEST_LOG_ODDS:
                ratio, lower, upper = (float(value) for value in np.exp(per_step))
                interval = Interval(ratio, lower, upper, LEVEL)
                results[fit.index] = interval, terms[fit.index].per
    return results


@dataclass(frozen=True, eq=False)
class _Fit:
    """A design with the standardised factor first, and the runs that logged it."""

    index: int
    design: np.ndarray
    logged: np.ndarray
    scale: float
    present: tuple[bool, ...]


def _prepare(index: int, column: np.ndarray, background: np.ndarray) -> _Fit | None:
    """Return None for a factor that cannot be told from who ran it."""
    logged = ~np.isnan(column)
    present = independent_columns(background, logged)
    scale = float(column[logged].std())
    if scale <= 0.0:
        return None
    filled = np.where(logged, (column - column[logged].mean()) / scale, 0.0)
    design = np.column_stack([filled, background[:, present]])
    if np.linalg.matrix_rank(design[logged]) < design.shape[1]:
        return None
    return _Fit(index, design, logged, scale, tuple(bool(one) for one in present))


def _intervals(fits: list[_Fit], failed: np.ndarray, tested: np.ndarray) -> np.ndarray:
    designs = np.array([fit.design for fit in fits])
    logged = np.array([fit.logged for fit in fits])
    k, m = failed * logged, tested * logged
    found = firth_fits(designs, k, m)
    phi = np.array(
        [
            cluster_factor(design, coefficients, one, many)
            for design, coefficients, one, many in zip(
                designs, found.coefficients, k, m, strict=True
            )
        ]
    )
    first = np.zeros(len(designs), dtype=int)
    lower, upper = profile_ends(designs, k, m, found.coefficients, first, phi, LEVEL)
    return np.column_stack([found.coefficients[:, 0], lower, upper])
