"""Odds ratios per a unit that means something, adjusted for who ran it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.firth import firth_fits
from weakstep.failures.profile import cluster_factor, profile_ends
from weakstep.interval import Interval

if TYPE_CHECKING:
    from weakstep.failures.candidates import Candidate
    from weakstep.failures.links import Link
    from weakstep.process.model import Parameter

LEVEL = 0.95
LARGEST_LOG_ODDS = 15.0


def uses_log(parameter: Parameter, values: np.ndarray) -> bool:
    """Whether differences by a factor are what the description means, and all values allow it."""
    known = values[~np.isnan(values)]
    return parameter.scale == "log" and parameter.per > 1.0 and bool((known > 0).all())


def per_phrase(parameter: Parameter, *, log: bool) -> str:
    """
    Return what an odds ratio is per, as a phrase.

    Examples
    --------
    >>> from weakstep.process.model import Parameter
    >>> delay = Parameter("delay_s", "delay", "contact", "reading", "number", unit="s", per=10)
    >>> per_phrase(delay, log=False)
    'per 10 s'
    """
    if parameter.kind == "yes_no":
        return "yes against no"
    if log:
        return "per doubling" if parameter.per == 2 else f"per factor of {parameter.per:g}"
    return f"per {parameter.per:g} {parameter.unit}".rstrip()


def linear_term(candidate: Candidate, link: Link) -> tuple[np.ndarray, str]:
    """
    Return the column whose coefficient is the log odds ratio, and what it is per.

    Parameters
    ----------
    candidate : Candidate
    link : Link
        Names the level of a category.

    Returns
    -------
    array, shape (n_runs,)
        NaN where not logged.
    str
    """
    parameter = candidate.parameter
    if candidate.kind == "category":
        code = candidate.shapes[link.shape].knot
        column = np.where(candidate.logged, candidate.values == code, np.nan)
        return column, f"{candidate.levels[int(code)]} against the rest"
    log = uses_log(parameter, candidate.values)
    if candidate.kind == "yes_no":
        return candidate.values, per_phrase(parameter, log=False)
    if log:
        return np.log(candidate.values) / np.log(parameter.per), per_phrase(parameter, log=True)
    return candidate.values / parameter.per, per_phrase(parameter, log=False)


def operator_columns(strata: np.ndarray) -> np.ndarray:
    """Return intercept and one 0/1 column per group of operators but the largest group."""
    groups, counts = np.unique(strata, return_counts=True)
    others = [group for group in groups if group != groups[np.argmax(counts)]]
    columns = [(strata == group).astype(float) for group in others]
    return np.column_stack([np.ones(len(strata)), *columns])


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
    terms = [linear_term(one, link) for one, link in zip(candidates, links, strict=True)]
    fitted: list[int] = []
    designs, weights, scales = [], [], []
    for index, (column, _) in enumerate(terms):
        logged = ~np.isnan(column)
        scale = float(column[logged].std())
        filled = np.where(logged, (column - np.nanmean(column)) / scale, 0.0)
        used = background * logged[:, None]
        keep = used.any(axis=0)
        design = np.column_stack([filled, background])
        if np.linalg.matrix_rank(design[logged]) < design.shape[1] or not keep.all():
            continue
        fitted.append(index)
        designs.append(design)
        weights.append(logged)
        scales.append(scale)
    results: list[tuple[Interval | None, str]] = [(None, per) for _, per in terms]
    if not fitted:
        return results
    intervals = _intervals(np.array(designs), np.array(weights), failed, tested)
    for index, scale, (estimate, lower, upper) in zip(fitted, scales, intervals, strict=True):
        logs = np.array([estimate, lower, upper]) / scale
        if np.abs(logs).max() <= LARGEST_LOG_ODDS:
            ratio = np.exp(logs)
            interval = Interval(float(ratio[0]), float(ratio[1]), float(ratio[2]), LEVEL)
            results[index] = interval, terms[index][1]
    return results


def _intervals(
    designs: np.ndarray, logged: np.ndarray, failed: np.ndarray, tested: np.ndarray
) -> np.ndarray:
    k, m = failed * logged, tested * logged
    fits = firth_fits(designs, k, m)
    phi = np.array(
        [
            cluster_factor(design, coefficients, one, many)
            for design, coefficients, one, many in zip(
                designs, fits.coefficients, k, m, strict=True
            )
        ]
    )
    first = np.zeros(len(designs), dtype=int)
    lower, upper = profile_ends(designs, k, m, fits.coefficients, first, phi, LEVEL)
    return np.column_stack([fits.coefficients[:, 0], lower, upper])
