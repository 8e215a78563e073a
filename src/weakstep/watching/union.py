"""How often several parameters signal in one semester because they move together."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.watching.limits import FAST, SHARES, SLOW, head_start
from weakstep.watching.sums import ALLOWANCES, sum_limits, sum_steps

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from weakstep.watching.limits import ColumnLimits

    Floats = NDArray[np.float64]

_SEMESTERS = 128


def union_factor(scores: ArrayLike, limits: ColumnLimits, *, runs: int, seed: int = 0) -> float:
    r"""
    Chance of any signal of a semester over the sum of the parameters' chances.

    With *N* the parameters that signal, :math:`P(N > 0) = \sum_i P(A_i)\, E(1/N \mid A_i)`. The
    mean is taken over drawn semesters in which parameter *i* does signal: high sums of stable
    scores come about as if these had a mean of twice the allowance from some run on, until the
    signal; another parameter then has that mean times its correlation with *i*.

    Parameters
    ----------
    scores : array_like, shape (n_runs, n_columns)
        Of the baseline, NaN for gaps, which count as no correlation.
    limits : ColumnLimits
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
    >>> from weakstep.watching.limits import column_limits
    >>> rows = np.random.default_rng(1).normal(size=(200, 4))
    >>> limits = column_limits(110, 0.002)
    >>> round(union_factor(rows, limits, runs=110), 1)
    1.0
    >>> round(union_factor(rows[:, [0, 0, 0, 0]], limits, runs=110), 2)
    0.25
    """
    together = _correlations(np.asarray(scores, dtype=float))
    columns = len(together)
    if columns < 2:
        return 1.0
    rng = np.random.default_rng(seed)
    each = np.arange(_SEMESTERS)
    forced = each % columns
    slow = rng.random(_SEMESTERS) * (SHARES[0] + SHARES[1]) < SHARES[0]
    allowance = np.where(slow, SLOW, FAST)
    began = rng.integers(0, runs, _SEMESTERS)
    drift = (2.0 * allowance)[:, None] * together[forced]
    highest = sum_limits(limits)[:, None, None]
    values, vectors = np.linalg.eigh(together)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    sums = np.empty((len(ALLOWANCES), _SEMESTERS, columns))
    sums[:] = np.array([head_start(one) for one in ALLOWANCES])[:, None, None]
    over = np.zeros((_SEMESTERS, columns), dtype=bool)
    for run in range(runs):
        drifts = (run >= began) & ~over[each, forced]
        z = rng.standard_normal((_SEMESTERS, columns)) @ root.T + drift * drifts[:, None]
        sums = np.maximum(0.0, sums + sum_steps(z))
        over |= (sums > highest).any(axis=0)
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
