"""How large a link looks by chance: residuals of whole runs change places within operators."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from weakstep.failures.evidence import likelihood_table, normal_evidence
from weakstep.failures.null_model import NullFit
from weakstep.failures.strata import centred_within, stratum_members

BLOCK = 500


@dataclass(frozen=True, eq=False)
class Orders:
    """
    Re-orderings of the runs, each only within its stratum.

    Attributes
    ----------
    strata : array of int, shape (n_runs,)
        Numbered from 0.
    places : array of int, shape (n_runs, n_permutations)
        Run whose residual comes to each place.
    """

    strata: np.ndarray
    places: np.ndarray


def draw_orders(strata: np.ndarray, permutations: int, rng: np.random.Generator) -> Orders:
    """
    Draw re-orderings of runs within strata.

    Parameters
    ----------
    strata : array of int, shape (n_runs,)
    permutations : int
    rng : Generator

    Returns
    -------
    Orders
    """
    places = np.empty((len(strata), permutations), dtype=np.intp)
    for stratum in np.unique(strata):
        members = np.flatnonzero(strata == stratum)
        keys = rng.random((permutations, len(members)), dtype=np.float32)
        places[members] = members[keys.argsort(axis=1)].T
    return Orders(strata, places)


@dataclass(frozen=True, eq=False)
class Scores:
    """
    Score z of every shape, observed and under the re-orderings, reduced to factors.

    Attributes
    ----------
    z : array, shape (n_shapes,)
        Signed; a one-sided shape counts only when positive.
    strength : array, shape (n_factors,)
        T: twice the log of the weighted mean evidence of each factor's shapes.
    best : array of int, shape (n_factors,)
        Shape with the most evidence among those that may be told.
    by_chance : array, shape (n_factors, n_permutations)
        T of each factor under each re-ordering.
    """

    z: np.ndarray
    strength: np.ndarray
    best: np.ndarray
    by_chance: np.ndarray


def score(
    columns: np.ndarray,
    residuals: np.ndarray,
    owner: np.ndarray,
    positive: np.ndarray,
    orders: Orders,
    told: np.ndarray | None = None,
    fit: NullFit | None = None,
    weights: np.ndarray | None = None,
) -> Scores:
    r"""
    Score every shape against the residuals, and against re-ordered residuals.

    With g a projected column and e the residuals, both less their mean within each stratum s,

    .. math:: z = \sum_i g_i e_i \Big/ \sqrt{\sum_s \frac{\sum_{i \in s} g_i^2
        \sum_{i \in s} e_i^2}{n_s - 1}},

    whose denominator is the exact standard deviation of the numerator over all re-orderings
    within strata; overdispersion between runs enters through e. A factor's strength weighs all its
    shapes instead of betting on the best one:

    .. math:: T = 2 \log \sum_s \pi_s B_s(z_s),

    with prior weights pi that sum to 1, and B the evidence of the shape's likelihood when *fit* is
    given (see `likelihood_table`). Otherwise it is :math:`e^{c z^2 / 2}` with c = 0.9, times
    :math:`2 [q \Phi(\sqrt c\, z) + (1 - q) \Phi(-\sqrt c\, z)]`: the Bayes factor, up to a
    constant, of normal effects that are positive with probability q. With one shape and q = 1/2
    that orders as the size of z does.

    Parameters
    ----------
    columns : array, shape (n_runs, n_shapes)
        Already projected off the null model.
    residuals : array, shape (n_runs,)
    owner : array of int, shape (n_shapes,)
        Factor of each shape; ascending, every factor at least once.
    positive : array, shape (n_shapes,)
        Probability q beforehand that an effect is positive; 1 for shapes that count only when z
        is positive.
    orders : Orders
    told : array of bool, shape (n_shapes,), optional
        Shapes among which the best is chosen, at least one per factor; all of them if left out.
    fit : NullFit, optional
        The null model that left these residuals.
    weights : array, shape (n_shapes,), optional
        Prior weight of each shape within its factor; alike if left out.

    Returns
    -------
    Scores

    References
    ----------
    Johnson, V. E. (2005), J. R. Stat. Soc. B 67, 689-701 (Bayes factors from test statistics);
    Strasser, H. & Weber, C. (1999), Mathematical Methods of Statistics 8, 220-250 (moments of
    linear statistics under stratified permutation).
    """
    scaled, e, variance = _within_strata(columns, residuals, orders.strata)
    usable = variance > 1e-12
    safe = np.where(usable, variance, 1.0)
    evidence_at: Callable[[np.ndarray], np.ndarray] = partial(normal_evidence, positive=positive)
    if fit is not None:
        evidence_at = likelihood_table(scaled, safe, positive, fit).at
    # In place: long logs have wide tables.
    scaled /= np.sqrt(safe)
    scaled[:, ~usable] = 0.0
    z = e @ scaled
    starts = np.searchsorted(owner, np.arange(owner[-1] + 1))
    log_weights = np.zeros(len(owner)) if weights is None else np.log(weights)
    evidence = evidence_at(z[:, None])
    strength = _combined(evidence, starts, log_weights)[:, 0]
    shown = evidence[:, 0] if told is None else np.where(told, evidence[:, 0], -np.inf)
    best = np.array(
        [
            start + int(np.argmax(shown[start:stop]))
            for start, stop in zip(starts, [*starts[1:], len(shown)], strict=True)
        ]
    )
    by_chance = np.empty((len(starts), orders.places.shape[1]))
    # Single precision is enough for what only serves to count how often T is reached by chance.
    small, across = e.astype(np.float32), np.ascontiguousarray(scaled.T, dtype=np.float32)
    for first in range(0, by_chance.shape[1], BLOCK):
        block = slice(first, first + BLOCK)
        chance = across @ small[orders.places[:, block]]
        by_chance[:, block] = _combined(evidence_at(chance), starts, log_weights)
    return Scores(z, strength, best, by_chance)


def _within_strata(
    columns: np.ndarray, residuals: np.ndarray, strata: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return columns and residuals less their strata's means, and the variance of each score."""
    members = stratum_members(strata)
    counts = members.sum(axis=1)
    centred = centred_within(columns, strata)
    e = centred_within(residuals[:, None], strata)[:, 0]
    spread = (members @ e**2) / np.maximum(counts - 1.0, 1.0)
    return centred, e, spread @ (members @ centred**2)


def _combined(evidence: np.ndarray, starts: np.ndarray, log_weights: np.ndarray) -> np.ndarray:
    """Return twice the log of each factor's weighted mean evidence, (n_factors, n_columns)."""
    counts = np.diff([*starts, len(evidence)])
    total = np.add.reduceat(np.exp(log_weights), starts)
    share = log_weights - np.log(np.repeat(total, counts))
    evidence = evidence + share[:, None].astype(evidence.dtype)
    top = np.maximum.reduceat(evidence, starts, axis=0)
    each = np.exp(evidence - np.repeat(top, counts, axis=0))
    return np.asarray(2.0 * (top + np.log(np.add.reduceat(each, starts, axis=0))))


def share_reaching(by_chance: np.ndarray, observed: np.ndarray) -> np.ndarray:
    """
    Return p-values: (1 + re-orderings whose value reaches the observed one) / (1 + all).

    Parameters
    ----------
    by_chance : array, shape (n_permutations,)
    observed : array, shape (n,)

    Returns
    -------
    array, shape (n,)

    References
    ----------
    Phipson, B. & Smyth, G. K. (2010), Stat. Appl. Genet. Mol. Biol. 9, article 39.
    """
    ordered = np.sort(by_chance)
    # A hair below the observed value, so that equal arrangements count as reaching it.
    hair = 1e-9 + 1e-5 * np.abs(observed)
    reached = len(ordered) - np.searchsorted(ordered, observed - hair, side="left")
    return np.asarray((1.0 + reached) / (1.0 + len(ordered)))
