"""Charts of several variables at once: Hotelling's T2, with what each variable contributes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import numbers
from weakstep.charts.frozen import constant_line, frozen
from weakstep.charts.model import Chart, Limits
from weakstep.charts.multivariate_limits import Phase, t2_limit
from weakstep.charts.patterns import find_signals
from weakstep.charts.row_checks import one_table
from weakstep.errors import NotEnoughError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Baseline:
    """
    Mean vector and covariance matrix that T2 is measured from.

    Attributes
    ----------
    centre : array, shape (n_variables,)
    covariance : array, shape (n_variables, n_variables)
        Of a single observation.
    n_points : int
        Points (single observations, or subgroups) behind the estimate.
    size : int
        Observations a point.
    """

    centre: Floats
    covariance: Floats
    n_points: int
    size: int = 1

    @property
    def n_variables(self) -> int:
        """Variables charted together."""
        return len(self.centre)


@dataclass(frozen=True, eq=False)
class MultivariateChart:
    """
    A chart of a distance from the centre, with the part of each variable in it.

    Attributes
    ----------
    chart : Chart
        Distances, no unit; 0 is the centre.
    contributions : array, shape (n_points, n_variables)
        By how much each distance would drop if the variable were left out, the others kept.
    """

    chart: Chart
    contributions: Floats


def baseline(values: ArrayLike, *, by_differences: bool = False) -> Baseline:
    r"""
    Estimate centre and covariance from single observations.

    The sample covariance, or, robust to slow change,
    :math:`\tfrac{1}{2(m-1)} \sum (x_{i+1} - x_i)(x_{i+1} - x_i)'` (Holmes and Mergen).

    Parameters
    ----------
    values : array_like, shape (n_points, n_variables)
        In time order; rows with a missing value (NaN) are passed over.
    by_differences : bool, default False
        From differences of neighbours.

    Returns
    -------
    Baseline

    Raises
    ------
    NotEnoughError
        There are not more complete rows than variables, or some variables repeat each other.

    References
    ----------
    D. S. Holmes and A. E. Mergen (1993), Improving the performance of the T2 control chart,
    Quality Engineering 5, 619-625.

    Examples
    --------
    >>> baseline([[1.0, 2.0], [2.0, 1.0], [3.0, 3.0]]).covariance.tolist()
    [[1.0, 0.5], [0.5, 1.0]]
    """
    table = one_table(values)
    table = table[~np.isnan(table).any(axis=1)]
    points, variables = table.shape
    if points <= variables:
        msg = (
            f"A chart of {variables} variables together needs more than {variables} complete "
            f"rows; there are {points}."
        )
        raise NotEnoughError(msg)
    if by_differences:
        steps = np.diff(table, axis=0)
        covariance = steps.T @ steps / (2.0 * (points - 1))
    else:
        covariance = np.atleast_2d(np.cov(table, rowvar=False))
    return Baseline(frozen(table.mean(axis=0)), frozen(_invertible(covariance)), points)


def subgroup_baseline(values: ArrayLike) -> Baseline:
    """
    Estimate centre and covariance from subgroups: mean of the covariances within them.

    Parameters
    ----------
    values : array_like, shape (n_subgroups, size, n_variables)
        No NaN; at least 2 observations a subgroup.

    Returns
    -------
    Baseline

    Raises
    ------
    ValueError
        Another shape, or missing values.
    NotEnoughError
        Some variables repeat each other.

    Examples
    --------
    >>> subgroup_baseline([[[1.0], [3.0]], [[2.0], [6.0]]]).covariance.tolist()
    [[5.0]]
    """
    cube = numbers("values", values)
    if cube.ndim != 3 or cube.shape[1] < 2 or not np.isfinite(cube).all():
        msg = (
            "values must be finite, of shape (subgroups, at least 2 observations, variables), got "
            f"{cube.shape}"
        )
        raise ValueError(msg)
    off = cube - cube.mean(axis=1, keepdims=True)
    within = np.einsum("gni,gnj->ij", off, off) / (len(cube) * (cube.shape[1] - 1))
    centre = cube.mean(axis=(0, 1))
    return Baseline(frozen(centre), frozen(_invertible(within)), len(cube), cube.shape[1])


def _invertible(covariance: Floats) -> Floats:
    """Return *covariance* unless some variables repeat each other or do not vary."""
    spread = np.sqrt(np.diag(covariance))
    if (spread == 0.0).any():
        msg = f"Variable {int(np.argmin(spread)) + 1} does not vary, so it cannot be charted."
        raise NotEnoughError(msg)
    if np.linalg.cond(covariance / np.outer(spread, spread)) > 1e12:
        msg = "Some variables are sums or multiples of others; leave one of them out."
        raise NotEnoughError(msg)
    return covariance


def t2_chart(
    points: ArrayLike, base: Baseline, *, false_alarm: float = 0.0027, phase: Phase = "monitoring"
) -> MultivariateChart:
    r"""
    Chart of Hotelling's :math:`T^2 = n (\bar x - \mu)' S^{-1} (\bar x - \mu)`.

    The contribution of a variable is :math:`T^2 - T^2_{(j)}`, the second computed without it
    (Runger, Alt and Montgomery): large for the variables that set the point apart.

    Parameters
    ----------
    points : array_like, shape (n_points, n_variables)
        Single observations, or means of subgroups of *base.size*; rows with NaN are gaps.
    base : Baseline
        From `baseline` or `subgroup_baseline`, or made by hand from known values.
    false_alarm : float
        Chance a point.
    phase : {"baseline", "monitoring", "known"}
        Whether the points are those of the baseline, later ones, or *base* is known exactly.

    Returns
    -------
    MultivariateChart

    Raises
    ------
    ValueError
        *points* has another number of variables than *base*.

    References
    ----------
    H. Hotelling (1947), Multivariate quality control, in Techniques of Statistical Analysis,
    McGraw-Hill. G. C. Runger, F. B. Alt and D. C. Montgomery (1996), Contributors to a
    multivariate statistical process control chart signal, Communications in Statistics - Theory
    and Methods 25, 2203-2213.

    Examples
    --------
    >>> known = Baseline(np.zeros(2), np.eye(2), 0)
    >>> found = t2_chart([[3.0, 4.0]], known, phase="known")
    >>> found.chart.values.tolist(), found.contributions.round(9).tolist()
    ([25.0], [[9.0, 16.0]])
    """
    table = matching_points(points, base)
    distance, parts = distances(table - base.centre, base.covariance / base.size)
    limit = t2_limit(
        base.n_variables,
        false_alarm=false_alarm,
        phase=phase,
        n_points=base.n_points,
        size=base.size,
    )
    return MultivariateChart(distance_chart("T2", distance, limit, base, false_alarm), parts)


def matching_points(points: ArrayLike, base: Baseline) -> Floats:
    """Return *points* as a table; raise when it has other variables than the baseline."""
    table = one_table(points)
    if not isinstance(base, Baseline):
        msg = f"base must come from baseline or subgroup_baseline, got {base!r}"
        raise ValueError(msg)
    if table.shape[1] != base.n_variables:
        msg = f"points have {table.shape[1]} variables, the baseline has {base.n_variables}"
        raise ValueError(msg)
    return table


def distances(off: Floats, covariance: Floats) -> tuple[Floats, Floats]:
    r"""
    Compute squared distances :math:`d' C^{-1} d`, and what each variable contributes to them.

    Parameters
    ----------
    off : array, shape (n_points, n_variables)
        NaN in a row gives NaN for it.
    covariance : array, shape (n_variables, n_variables)

    Returns
    -------
    distance : array, shape (n_points,)
    contributions : array, shape (n_points, n_variables)
        :math:`(C^{-1} d)_j^2 / (C^{-1})_{jj}`, which is the distance less that without variable
        *j*.

    Examples
    --------
    >>> distances(np.array([[1.0, 2.0]]), np.eye(2))[0].tolist()
    [5.0]
    """
    inverse = np.linalg.inv(covariance)
    pulled = off @ inverse
    distance = np.einsum("ij,ij->i", pulled, off)
    return frozen(distance), frozen(pulled**2 / np.diag(inverse))


def distance_chart(
    kind: str, distance: Floats, limit: float, base: Baseline, false_alarm: float
) -> Chart:
    """Chart of distances with one upper limit; *false_alarm* is the chance a point."""
    logged = int((~np.isnan(distance)).sum())
    single = base.n_points - 1 if base.size == 1 else base.n_points * (base.size - 1)
    return Chart(
        kind=kind,
        values=distance,
        limits=Limits(
            centre=float(base.n_variables),
            lower=constant_line(0.0, distance),
            upper=constant_line(limit, distance),
            sigma=1.0,
            sigma_from="covariance of the baseline" if base.n_points else "covariance given",
            degrees_of_freedom=float(single) if base.n_points else float("inf"),
        ),
        signals=find_signals(3.0 * distance / limit, ("beyond_limit",)),
        false_alarm=float(1.0 - (1.0 - false_alarm) ** logged),
    )
