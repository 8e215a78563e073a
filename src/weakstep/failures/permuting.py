"""How large a link looks by chance: residuals of whole runs change places within operators."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

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
        T: the largest |z| over each factor's shapes.
    best : array of int, shape (n_factors,)
        Shape that reaches it.
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
    one_sided: np.ndarray,
    orders: Orders,
) -> Scores:
    r"""
    Score every shape against the residuals, and against re-ordered residuals.

    With g a projected column and e the residuals, both less their mean within each stratum s,

    .. math:: z = \sum_i g_i e_i \Big/ \sqrt{\sum_s \frac{\sum_{i \in s} g_i^2
        \sum_{i \in s} e_i^2}{n_s - 1}},

    whose denominator is the exact standard deviation of the numerator over all re-orderings
    within strata; overdispersion between runs enters through e.

    Parameters
    ----------
    columns : array, shape (n_runs, n_shapes)
        Already projected off the null model.
    residuals : array, shape (n_runs,)
    owner : array of int, shape (n_shapes,)
        Factor of each shape; ascending, every factor at least once.
    one_sided : array of bool, shape (n_shapes,)
        Shapes that count only when z is positive.
    orders : Orders

    Returns
    -------
    Scores

    References
    ----------
    Strasser, H. & Weber, C. (1999), Mathematical Methods of Statistics 8, 220-250 (moments of
    linear statistics under stratified permutation).
    """
    strata = orders.strata
    members = (strata[None, :] == np.arange(strata.max() + 1)[:, None]).astype(float)
    counts = members.sum(axis=1)
    centred = columns - ((members @ columns) / counts[:, None])[strata]
    e = residuals - ((members @ residuals) / counts)[strata]
    spread = (members @ e**2) / np.maximum(counts - 1.0, 1.0)
    variance = spread @ (members @ centred**2)
    usable = variance > 1e-12
    scaled = np.where(usable, centred / np.sqrt(np.where(usable, variance, 1.0)), 0.0)
    z = e @ scaled
    starts = np.searchsorted(owner, np.arange(owner[-1] + 1))
    size = _size(z[:, None], one_sided)[:, 0]
    strength = np.maximum.reduceat(size, starts)
    best = np.array(
        [
            start + int(np.argmax(size[start:stop]))
            for start, stop in zip(starts, [*starts[1:], len(size)], strict=True)
        ]
    )
    by_chance = np.empty((len(starts), orders.places.shape[1]))
    for first in range(0, by_chance.shape[1], BLOCK):
        block = slice(first, first + BLOCK)
        chance = scaled.T @ e[orders.places[:, block]]
        by_chance[:, block] = np.maximum.reduceat(_size(chance, one_sided), starts, axis=0)
    return Scores(z, strength, best, by_chance)


def _size(z: np.ndarray, one_sided: np.ndarray) -> np.ndarray:
    return np.asarray(np.where(one_sided[:, None], np.maximum(z, 0.0), np.abs(z)))


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
    reached = len(ordered) - np.searchsorted(ordered, observed - 1e-9, side="left")
    return np.asarray((1.0 + reached) / (1.0 + len(ordered)))
