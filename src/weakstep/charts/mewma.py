"""Chart of exponentially weighted means of several variables at once (MEWMA)."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.frozen import frozen
from weakstep.charts.mewma_limits import mewma_limit
from weakstep.charts.mewma_run_lengths import check_mewma, mewma_survival
from weakstep.charts.multivariate import (
    Baseline,
    MultivariateChart,
    distance_chart,
    distances,
    matching_points,
)
from weakstep.charts.weighted import weighted_means

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]


def mewma_chart(
    points: ArrayLike,
    base: Baseline,
    *,
    weight: float = 0.1,
    limit: float | None = None,
    constant_limits: bool = False,
) -> MultivariateChart:
    r"""
    Chart of the distance of exponentially weighted means from the centre.

    :math:`T^2_i = z_i' \Sigma_{z_i}^{-1} z_i` with :math:`z_i = \lambda d_i + (1-\lambda) z_{i-1}`,
    *d* the distance of a point from the centre, and
    :math:`\Sigma_{z_i} = \frac{\lambda}{2-\lambda} [1 - (1-\lambda)^{2i}] \Sigma / n`, or the same
    without the bracket.

    Parameters
    ----------
    points : array_like, shape (n_points, n_variables)
        Single observations, or means of subgroups of *base.size*; rows with NaN are passed over.
    base : Baseline
    weight : float, default 0.1
        Of the newest point.
    limit : float, optional
        Of T2; default that of an average run length of 370 points (for constant limits).
    constant_limits : bool, default False
        Use the covariance that the exact one grows into.

    Returns
    -------
    MultivariateChart
        `false_alarm` holds for a centre and covariance that are known.

    Raises
    ------
    ValueError
        *points* has another number of variables than *base*, or an argument is out of range.

    References
    ----------
    C. A. Lowry, W. H. Woodall, C. W. Champ and S. E. Rigdon (1992), A multivariate exponentially
    weighted moving average control chart, Technometrics 34, 46-53.

    Examples
    --------
    >>> known = Baseline(np.zeros(2), np.array([[1.0, 0.5], [0.5, 1.0]]), 0)
    >>> found = mewma_chart([[-1.19, 0.59], [0.12, 0.90]], known, weight=0.1, limit=8.79)
    >>> found.chart.values.round(4).tolist()
    [3.2884, 3.1772]
    """
    table = matching_points(points, base)
    check_mewma(1.0 if limit is None else limit, base.n_variables, weight, 0.0)
    limit = mewma_limit(base.n_variables, weight) if limit is None else limit
    used = ~np.isnan(table).any(axis=1)
    smooth = np.full(table.shape, np.nan)
    smooth[used] = weighted_means(table[used] - base.centre, weight, 0.0)
    counted = np.maximum(np.cumsum(used), 1)
    growth = np.ones(len(table)) if constant_limits else 1.0 - (1.0 - weight) ** (2 * counted)
    settled = weight / (2.0 - weight) / base.size
    distance, parts = distances(smooth, base.covariance * settled)
    count = int(used.sum())
    alive = mewma_survival(count, limit, base.n_variables, weight, constant_limits=constant_limits)
    chart = distance_chart("MEWMA", frozen(distance / growth), limit, base, 0.0)
    chart = replace(chart, false_alarm=float(1.0 - alive[-1]) if count else 0.0)
    return MultivariateChart(chart, frozen(parts / growth[:, None]))
