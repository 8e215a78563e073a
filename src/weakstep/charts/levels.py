"""Whether groups of values (stages, operators, moulds) lie at different levels."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.row_checks import one_row

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


def levels_differ(values: ArrayLike, groups: ArrayLike) -> float:
    r"""
    Chance that groups of one level look as different as these: Kruskal and Wallis' test.

    .. math::
        H = \frac{12}{n (n + 1)} \sum_g \frac{R_g^2}{n_g} - 3 (n + 1),

    *R* the sums of ranks, divided by :math:`1 - \sum (t^3 - t) / (n^3 - n)` for ties, against
    chi-squared with one degree of freedom less than groups.

    Parameters
    ----------
    values : array_like, shape (n_values,)
        NaN is left out.
    groups : array_like, shape (n_values,)
        Any labels; those of several kinds are told apart by how they are written.

    Returns
    -------
    float
        1 where fewer than two groups have values, or all values are equal.

    Raises
    ------
    ValueError
        *groups* has another length.

    References
    ----------
    W. H. Kruskal and W. A. Wallis (1952), Use of ranks in one-criterion variance analysis, Journal
    of the American Statistical Association 47, 583-621.

    Examples
    --------
    >>> round(levels_differ([1, 2, 3, 7, 8, 9], ["a", "a", "a", "b", "b", "b"]), 4)
    0.0495
    """
    from scipy.special import chdtrc

    row = one_row(values)
    labels = np.asarray(groups)
    if labels.dtype == object:  # labels of several kinds, which have no order
        labels = labels.astype(str)
    if labels.shape != row.shape:
        msg = f"groups must name each of the {len(row)} values, got shape {labels.shape}"
        raise ValueError(msg)
    logged = ~np.isnan(row)
    _, place, times = np.unique(row[logged], return_inverse=True, return_counts=True)
    _, code = np.unique(labels[logged], return_inverse=True)
    count = int(logged.sum())
    if count == 0 or code.max() == 0 or len(times) == 1:
        return 1.0
    rank = (np.cumsum(times) - (times - 1) / 2.0)[place]
    sums, sizes = np.bincount(code, weights=rank), np.bincount(code)
    spread = 12.0 / (count * (count + 1.0)) * (sums**2 / sizes).sum() - 3.0 * (count + 1.0)
    ties = 1.0 - float((times.astype(float) ** 3 - times).sum()) / (float(count) ** 3 - count)
    return float(chdtrc(len(sizes) - 1, spread / ties))
