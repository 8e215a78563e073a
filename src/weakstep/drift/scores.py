"""Values as normal scores within strata: what makes one screen fit every kind of parameter."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

Number = TypeVar("Number", bound=np.floating)
LEAST_IN_STRATUM = 8  # runs; smaller strata are pooled


def pooled_strata(labels: ArrayLike) -> NDArray[np.intp]:
    """
    Give each stratum a number, with all that hold fewer than 8 runs pooled into one.

    Parameters
    ----------
    labels : array_like of str, shape (n_runs,)
        Who (or which machine) made each run.

    Returns
    -------
    array of int, shape (n_runs,)
        From 0; the pooled stratum, if any, comes last.

    Examples
    --------
    >>> pooled_strata(["A"] * 8 + ["B", "C"]).tolist()
    [0, 0, 0, 0, 0, 0, 0, 0, 1, 1]
    """
    _, codes, counts = np.unique(np.asarray(labels), return_inverse=True, return_counts=True)
    large = counts >= LEAST_IN_STRATUM
    renumbered = np.where(large, np.cumsum(large) - 1, large.sum())
    return renumbered[codes]


def normal_scores(values: ArrayLike, strata: ArrayLike) -> NDArray[np.float64]:
    r"""
    Compute normal scores of midranks within strata, each stratum scaled to mean 0 and variance 1.

    The score of the value with midrank *r* among *m* is :math:`\Phi^{-1}((r - 1/2) / m)`. A stratum
    whose values are all equal says nothing and scores 0.

    Parameters
    ----------
    values : array_like, shape (n_values,)
        Any unit; no NaN.
    strata : array_like of int, shape (n_values,)
        Stratum of each value.

    Returns
    -------
    array, shape (n_values,)
        No unit.

    References
    ----------
    B. L. van der Waerden (1952), Order tests for the two-sample problem and their power,
    Indagationes Mathematicae 14, 453-458.

    Examples
    --------
    >>> normal_scores([1, 5, 2, 2], [0, 0, 0, 0]).round(2).tolist()
    [-1.41, 1.41, 0.0, 0.0]
    """
    from scipy.special import ndtri

    known, codes = np.asarray(values, dtype=float), np.asarray(strata)
    scores = np.zeros(len(known))
    for code in np.unique(codes):
        inside = codes == code
        _, place, ties = np.unique(known[inside], return_inverse=True, return_counts=True)
        midranks = (np.cumsum(ties) - (ties - 1) / 2.0)[place]
        raw = ndtri((midranks - 0.5) / len(midranks))
        raw -= raw.mean()
        spread = np.sqrt(np.mean(raw**2))
        scores[inside] = raw / spread if spread > 0.0 else 0.0
    return scores


def stratum_variances(scores: NDArray[np.float64], strata: NDArray[np.intp]) -> NDArray[np.float64]:
    """Variance of each stratum's scores (1, or 0 where all are equal); shape (n_strata,)."""
    sizes = np.bincount(strata)
    squares = np.bincount(strata, weights=scores**2)
    return np.divide(squares, sizes, out=np.zeros(len(sizes)), where=sizes > 0)


def whitened(scores: NDArray[Number], phi: float) -> NDArray[Number]:
    r"""
    Innovations :math:`e_t = (s_t - \phi s_{t-1}) / \sqrt{1 - \phi^2}`, with :math:`e_0 = s_0`.

    Parameters
    ----------
    scores : array, shape (n_values, ...)
    phi : float
        Correlation of neighbours, from 0 to below 1.

    Returns
    -------
    array, shape (n_values, ...)

    Examples
    --------
    >>> whitened(np.array([1.0, 1.0]), 0.6).tolist()
    [1.0, 0.5]
    """
    innovations = scores.copy()
    innovations[1:] = (scores[1:] - phi * scores[:-1]) / float(np.sqrt(1.0 - phi**2))
    return innovations


def refiltered(innovations: NDArray[np.float32], phi: ArrayLike) -> NDArray[np.float32]:
    r"""
    Undo `whitened`: :math:`y_t = \phi y_{t-1} + \sqrt{1 - \phi^2} e_t`.

    Parameters
    ----------
    innovations : array, shape (n_values, n_orders)
        One re-ordering per column.
    phi : float, or array of shape (n_orders,)
        Correlation of neighbours, from 0 to below 1.

    Returns
    -------
    array, shape (n_values, n_orders)

    Examples
    --------
    >>> refiltered(np.array([[1.0], [0.5]], dtype=np.float32), 0.6).round(3).tolist()
    [[1.0], [1.0]]
    """
    alike = np.broadcast_to(np.asarray(phi, dtype=np.float32), innovations.shape[1:])
    orders = np.flatnonzero(alike)  # where neighbours are independent nothing changes
    alike, first = alike[orders], innovations[0, orders]
    series = innovations[:, orders] * np.sqrt(1.0 - alike**2)
    series[0] = first
    for row in range(1, len(series)):
        series[row] += alike * series[row - 1]
    result = innovations.copy()
    result[:, orders] = series
    return result
