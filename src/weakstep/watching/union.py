"""How often several parameters signal in one semester because they move together."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.watching.evidence import evidence_of, evidence_steps
from weakstep.watching.limits import AT_THE_SEAM, SHIFTS, WEIGHTS

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

_SEMESTERS = 128


def union_factor(scores: ArrayLike, limit: float, *, runs: int, seed: int = 0) -> float:
    r"""
    Chance of any signal of a semester over the sum of the parameters' chances.

    With *N* the parameters that signal, :math:`P(N > 0) = \sum_i P(A_i)\, E(1/N \mid A_i)`. The
    mean is taken over drawn semesters in which parameter *i* does signal: high evidence of stable
    scores comes about as if these had shifted from some run on, until the signal; another parameter
    then has that shift times its correlation with *i*.

    Parameters
    ----------
    scores : array_like, shape (n_runs, n_columns)
        Of the baseline, NaN for gaps, which count as no correlation.
    limit : float
        Of each parameter's evidence.
    runs : int
        Of a semester.
    seed : int, default 0

    Returns
    -------
    float
        About 1 for independent parameters, 1 / n_columns when all are the same.

    References
    ----------
    D. Siegmund (1985), Sequential Analysis, Springer, chapters 2 and 4 (the tilted law); D. Q.
    Naiman and C. E. Priebe (2001), Computing scan statistic p values using importance sampling,
    Journal of Computational and Graphical Statistics 10, 296-328 (the union; from memory).

    Examples
    --------
    >>> from weakstep.watching.limits import evidence_limit
    >>> rows = np.random.default_rng(1).normal(size=(200, 4))
    >>> limit = evidence_limit(110, 0.002)
    >>> round(union_factor(rows, limit, runs=110), 1)
    1.0
    >>> round(union_factor(rows[:, [0, 0, 0, 0]], limit, runs=110), 2)
    0.25
    """
    together = _correlations(np.asarray(scores, dtype=float))
    columns = len(together)
    if columns < 2:
        return 1.0
    rng = np.random.default_rng(seed)
    each = np.arange(_SEMESTERS)
    forced = each % columns
    sizes = np.array(SHIFTS)
    shift = rng.choice(sizes, _SEMESTERS, p=np.array(WEIGHTS[:-1]) / sum(WEIGHTS[:-1]))
    began = rng.integers(0, runs, _SEMESTERS)
    drift = shift[:, None] * together[forced]
    values, vectors = np.linalg.eigh(together)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    sums = np.full((1, _SEMESTERS, columns), AT_THE_SEAM - 1.0)
    over = np.zeros((_SEMESTERS, columns), dtype=bool)
    for run in range(runs):
        drifts = (run >= began) & ~over[each, forced]
        z = rng.standard_normal((_SEMESTERS, columns)) @ root.T + drift * drifts[:, None]
        sums = (1.0 + sums) * evidence_steps(z)
        over |= evidence_of(sums) > limit
    signalled = over[over[each, forced]].sum(axis=1)
    return float((1.0 / signalled).mean()) if len(signalled) else 1.0


def _correlations(scores: Floats) -> Floats:
    """Correlations of columns, never indefinite: gaps are filled by each column's mean."""
    off = scores - np.nanmean(scores, axis=0)
    off = np.where(np.isnan(off), 0.0, off)
    length = np.sqrt((off**2).sum(axis=0))
    unit = off / np.where(length > 0.0, length, 1.0)
    together = unit.T @ unit
    np.fill_diagonal(together, 1.0)
    return np.asarray(together)
