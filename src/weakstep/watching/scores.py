"""New values made comparable: scores that are standard normal while nothing changes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

MOST_MEMORY = 0.8
_CLEAR = 1.0  # standard errors above 0 from which on memory is allowed for


def rank_scores(before: ArrayLike, new: ArrayLike) -> Floats:
    r"""
    Score each new value by its rank among the baseline's.

    With *r* of *n* baseline values below it (ties count half),
    :math:`\Phi^{-1}((r + 1/2) / (n + 1))`: its law does not depend on the distribution, so neither
    do false alarms.

    Parameters
    ----------
    before : array_like, shape (n_before,)
        No NaN.
    new : array_like, shape (n_new,)
        No NaN.

    Returns
    -------
    array, shape (n_new,)

    References
    ----------
    Chakraborti, S. & van de Wiel, M. A. (2008), A nonparametric control chart based on the
    Mann-Whitney statistic, IMS Collections 1, 156-172.

    Examples
    --------
    >>> rank_scores([1.0, 2.0, 3.0], [4.0, 0.0]).round(2).tolist()
    [1.15, -1.15]
    """
    from scipy.special import ndtri

    known, coming = np.sort(np.asarray(before, dtype=float)), np.asarray(new, dtype=float)
    below = np.searchsorted(known, coming, "left") + np.searchsorted(known, coming, "right")
    return np.asarray(ndtri((below / 2.0 + 0.5) / (len(known) + 1.0)), dtype=float)


def new_scores(before: ArrayLike, new: ArrayLike, *, normal: bool, memory: float = 0.0) -> Floats:
    r"""
    Score new values against the baseline, freed of the memory of neighbours.

    Values that look normal are scored by the baseline's mean and standard deviation, others by
    `rank_scores`. With memory :math:`\phi`,
    :math:`e_t = (s_t - \phi s_{t-1}) / \sqrt{1 - \phi^2}`. The limits allow for how little a short
    baseline says (`weakstep.watching.limits.column_limits`).

    Parameters
    ----------
    before : array_like, shape (n_before,)
        The baseline's values in time order; no NaN.
    new : array_like, shape (n_new,)
        No NaN.
    normal : bool
    memory : float, default 0

    Returns
    -------
    array, shape (n_new,)

    Examples
    --------
    >>> new_scores([1.0, 3.0, 2.0], [4.0], normal=True).tolist()
    [2.0]
    """
    known, coming = np.asarray(before, dtype=float), np.asarray(new, dtype=float)
    if not len(coming):
        return np.zeros(0)
    chained = np.concatenate([known[-1:], coming])  # the last of the baseline is remembered
    by_spread = (chained - known.mean()) / known.std(ddof=1)
    scores = by_spread if normal else rank_scores(known, chained)
    if memory:
        return np.asarray((scores[1:] - memory * scores[:-1]) / np.sqrt(1.0 - memory**2))
    return np.asarray(scores[1:], dtype=float)


def memory_of(values: ArrayLike) -> float:
    r"""
    Estimate how far neighbours go together: lag-1 correlation of normal scores, 0 unless clear.

    It counts from one standard error :math:`1/\sqrt{n}` on; then its bias, about
    :math:`(1 + 3 r) / n`, is added back, and half a standard error, because too little allowance
    costs false alarms.

    Parameters
    ----------
    values : array_like, shape (n_values,)
        In time order; no NaN.

    Returns
    -------
    float
        From 0 to 0.8.

    References
    ----------
    Kendall, M. G. (1954), Note on bias in the estimation of autocorrelation, Biometrika 41,
    403-404.

    Examples
    --------
    >>> memory_of([1.0, 2.0] * 20), memory_of([1.0] * 20 + [2.0] * 20) > 0.5
    (0.0, True)
    """
    from scipy.special import ndtri
    from scipy.stats import rankdata

    known = np.asarray(values, dtype=float)
    count = len(known)
    score = ndtri((rankdata(known) - 0.5) / count)
    score = score - score.mean()
    power = float(score @ score)
    if power == 0.0:
        return 0.0
    r = float(score[1:] @ score[:-1]) / power
    if r < _CLEAR / np.sqrt(count):
        return 0.0
    error = np.sqrt(max(0.0, 1.0 - r * r) / count)
    return float(min(MOST_MEMORY, r + (1.0 + 3.0 * r) / count + 0.5 * error))
