"""Laney's charts: shares and rates that scatter more, or less, than chance between points."""

from __future__ import annotations

from typing import TYPE_CHECKING

from weakstep.charts.attributes import counts, share_chart
from weakstep.charts.faults import counts_and_area, rate_chart
from weakstep.charts.looks import Look

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from weakstep.charts.model import Chart


def laney_p_chart(failed: ArrayLike, tested: ArrayLike, *, share: float | None = None) -> Chart:
    r"""
    Laney's p' chart: shares whose scatter from point to point is estimated.

    With :math:`\sigma_{p_i} = \sqrt{\bar p (1 - \bar p) / n_i}`,
    :math:`z_i = (p_i - \bar p) / \sigma_{p_i}` and :math:`\sigma_z = \overline{MR}(z) / 1.128`,
    limits lie at :math:`\bar p \pm 3 \sigma_{p_i} \sigma_z`, cut at 0 and 1. Where
    :math:`\sigma_z = 1` this is the p chart.

    Parameters
    ----------
    failed, tested : array_like of int, shape (n_points,)
        Items that failed and items with a known outcome; a point with none is a gap (NaN).
    share : float, optional
        Known share of failures; default :math:`\bar p`.

    Returns
    -------
    Chart
        Values and limits as shares; `limits.sigma` is that of a point of mean size. The chance of
        a false alarm takes the shares as normal.

    Raises
    ------
    ValueError
        Counts are not whole, negative, or more failed than were tested, or *share* is not between
        0 and 1.
    NotEnoughError
        Fewer than two points with tested items, or no variation.

    References
    ----------
    D. B. Laney (2002), Improved control charts for attributes, Quality Engineering 14, 531-537.

    Examples
    --------
    >>> chart = laney_p_chart([20, 40, 10, 30], [1000, 1000, 1000, 1000])
    >>> chart.limits.centre, chart.limits.upper.round(4).tolist()
    (0.025, [0.087, 0.087, 0.087, 0.087])
    """
    return share_chart(*counts(failed, tested), "p'", share, "always", Look.of())


def laney_u_chart(faults: ArrayLike, area: ArrayLike, *, rate: float | None = None) -> Chart:
    r"""
    Laney's u' chart: rates whose scatter from point to point is estimated.

    Limits lie at :math:`\bar u \pm 3 \sigma_z \sqrt{\bar u / a_i}`, cut at 0, with
    :math:`\sigma_z` as for `laney_p_chart`.

    Parameters
    ----------
    faults : array_like of int, shape (n_points,)
        Faults counted.
    area : array_like, shape (n_points,)
        What was looked at, in any one unit; 0 makes a gap (NaN).
    rate : float, optional
        Known faults per unit of *area*, above 0; default :math:`\bar u`.

    Returns
    -------
    Chart
        Values and limits per unit of *area*.

    Raises
    ------
    ValueError
        Counts are not whole, or something is negative, or *rate* is not above 0.
    NotEnoughError
        Fewer than two points that were looked at, or no variation.

    References
    ----------
    As for `laney_p_chart`.

    Examples
    --------
    >>> chart = laney_u_chart([20, 40, 10, 30], [10.0, 10.0, 10.0, 10.0])
    >>> chart.limits.centre, chart.limits.upper.round(3).tolist()
    (2.5, [8.704, 8.704, 8.704, 8.704])
    """
    return rate_chart(*counts_and_area(faults, area), "u'", rate, "always", Look.of())
