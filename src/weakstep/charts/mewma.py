"""Chart of exponentially weighted means of several variables at once (MEWMA)."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.frozen import frozen
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

_NODES = 72  # eight digits of the published limits


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
        `false_alarm` takes run lengths as geometric.

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
    if not 0.0 < weight <= 1.0:
        msg = f"weight must be above 0 and at most 1, got {weight}"
        raise ValueError(msg)
    limit = mewma_limit(base.n_variables, weight) if limit is None else limit
    used = ~np.isnan(table).any(axis=1)
    smooth = np.full(table.shape, np.nan)
    smooth[used] = weighted_means(table[used] - base.centre, weight, 0.0)
    counted = np.maximum(np.cumsum(used), 1)
    growth = np.ones(len(table)) if constant_limits else 1.0 - (1.0 - weight) ** (2 * counted)
    settled = weight / (2.0 - weight) / base.size
    distance, parts = distances(smooth, base.covariance * settled)
    alarm = 1.0 / mewma_run_length(limit, base.n_variables, weight)
    chart = distance_chart("MEWMA", frozen(distance / growth), limit, base, alarm)
    return MultivariateChart(chart, frozen(parts / growth[:, None]))


def mewma_run_length(limit: float, n_variables: int, weight: float) -> float:
    r"""
    Average run length of a stable MEWMA chart with constant limits, from a start at the centre.

    The length *r* of *z* is a state: given *r*, :math:`(r'/\lambda)^2` of the next point is
    noncentral chi-squared with :math:`((1-\lambda) r / \lambda)^2` (Rigdon's integral equation,
    with the length instead of its square so that the kernel is smooth).

    Parameters
    ----------
    limit : float
        Of T2.
    n_variables : int
    weight : float
        Of the newest point.

    Returns
    -------
    float
        In points.

    References
    ----------
    S. E. Rigdon (1995), An integral equation for the in-control average run length of a
    multivariate exponentially weighted moving average control chart, Journal of Statistical
    Computation and Simulation 52, 351-365.

    Examples
    --------
    >>> round(mewma_run_length(10.597, 2, 1.0), 1), round(mewma_run_length(8.64, 2, 0.1), 1)
    (200.0, 200.5)
    """
    reach = math.sqrt(limit * weight / (2.0 - weight))
    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    lengths, weights = reach * (nodes + 1.0) / 2.0, reach * weights / 2.0
    moves = _length_density(lengths, lengths, n_variables, weight) * weights
    run_lengths = np.linalg.solve(np.eye(_NODES) - moves, np.ones(_NODES))
    first = _length_density(np.zeros(1), lengths, n_variables, weight)[0] * weights
    return float(1.0 + first @ run_lengths)


def _length_density(before: Floats, after: Floats, n_variables: int, weight: float) -> Floats:
    r"""
    Density of the next length of *z* given this one; shape (n_before, n_after).

    That of a noncentral chi variable,
    :math:`y (y/c)^{p/2-1} e^{-(y^2+c^2)/2} I_{p/2-1}(c y)`, in units of the weight.
    """
    from scipy.special import gammaln, ive

    order = n_variables / 2.0 - 1.0
    y = after / weight
    centre = (1.0 - weight) * before[:, None] / weight
    near = centre < 1e-8
    c = np.where(near, 1.0, centre)
    with_centre = y * (y / c) ** order * np.exp(-((y - c) ** 2) / 2.0) * ive(order, c * y)
    log_central = (
        (n_variables - 1) * np.log(y)
        - y**2 / 2.0
        - order * math.log(2.0)
        - gammaln(n_variables / 2.0)
    )
    return np.asarray(np.where(near, np.exp(log_central), with_centre) / weight, dtype=float)


@lru_cache(maxsize=64)
def mewma_limit(n_variables: int, weight: float, run_length: float = 370.0) -> float:
    """
    Limit of a MEWMA chart for a stated average run length of a stable process.

    Parameters
    ----------
    n_variables : int
    weight : float
        Of the newest point.
    run_length : float, default 370
        In points; above 1.

    Examples
    --------
    >>> round(mewma_limit(2, 0.1, 200.0), 2)
    8.63
    """
    from scipy.optimize import brentq

    if not run_length > 1.0:
        msg = f"run_length must be above 1, got {run_length}"
        raise ValueError(msg)

    def excess(limit: float) -> float:
        return mewma_run_length(limit, n_variables, weight) / run_length - 1.0

    most = float(n_variables)
    while excess(most) < 0.0:
        most *= 1.5
    return float(brentq(excess, 1e-3, most, xtol=1e-7))
