"""Charts of counts with probability limits: exact quantiles instead of three sigma."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.attributes import counts
from weakstep.charts.checks import chance, real, whole_counts, whole_number
from weakstep.charts.exact_limits import CountLimits, binomial_limits, poisson_limits
from weakstep.charts.faults import counts_and_area
from weakstep.charts.frozen import frozen
from weakstep.charts.model import Chart, Limits
from weakstep.charts.rare import THREE_SIGMA_CHANCE, signals_beyond
from weakstep.errors import NotEnoughError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class ExactChart:
    """
    A chart of counts with probability limits.

    Attributes
    ----------
    chart : Chart
        Its chance of a false alarm is exact for the share or mean that the limits come from.
    limits : CountLimits
        In counts, with the chances they achieve; one entry for each point that is no gap.
    """

    chart: Chart
    limits: CountLimits


def exact_p_chart(
    failed: ArrayLike,
    tested: ArrayLike,
    *,
    share: float | None = None,
    false_alarm: float = THREE_SIGMA_CHANCE,
) -> ExactChart:
    r"""
    Chart of the share of failures with the limits of `binomial_limits`, for any sizes.

    Where few failures are expected, three-sigma limits of `p_chart` lie below 0 and are passed too
    often upwards; these promise at most half of *false_alarm* on either side.

    Parameters
    ----------
    failed, tested : array_like of int, shape (n_points,)
        Items that failed and items with a known outcome; a point with none is a gap (NaN).
    share : float, optional
        Known share of failures; default :math:`\bar p = \sum d_i / \sum n_i`.
    false_alarm : float
        :math:`\alpha`, chance of a stable point beyond either limit at most.

    Returns
    -------
    ExactChart
        Values and limits of the chart as shares.

    Raises
    ------
    ValueError
        Counts are not whole, negative, or more failed than were tested, or *share* or *false_alarm*
        is not between 0 and 1.
    NotEnoughError
        No item was tested at all, or *share* is not known and all items failed or none.

    References
    ----------
    As for `binomial_limits`.

    Examples
    --------
    >>> found = exact_p_chart([2, 1, 3, 9], [50, 50, 50, 50], share=0.04)
    >>> found.chart.limits.upper.tolist(), [signal.at for signal in found.chart.signals]
    ([0.14, 0.14, 0.14, 0.14], [3])
    """
    bad, size = counts(failed, tested)
    return _share_chart(bad, size, "p", share, false_alarm)


def exact_np_chart(
    failed: ArrayLike,
    size: int,
    *,
    share: float | None = None,
    false_alarm: float = THREE_SIGMA_CHANCE,
) -> ExactChart:
    r"""
    Chart of the number of failures in points of one size with the limits of `binomial_limits`.

    Parameters
    ----------
    failed : array_like of int, shape (n_points,)
        Items that failed.
    size : int
        Items tested in every point.
    share, false_alarm
        As for `exact_p_chart`.

    Returns
    -------
    ExactChart
        Values and limits of the chart as numbers of items.

    Raises
    ------
    ValueError, NotEnoughError
        As for `exact_p_chart`.

    References
    ----------
    As for `binomial_limits`.

    Examples
    --------
    >>> found = exact_np_chart([2, 1, 3, 9], 50, share=0.04)
    >>> found.chart.limits.upper.tolist(), found.limits.above.round(5).tolist()
    ([7.0, 7.0, 7.0, 7.0], [0.00078, 0.00078, 0.00078, 0.00078])
    """
    whole_number("size", size, 1)
    bad = whole_counts("failed", failed)
    bad, sizes = counts(bad, np.full(bad.shape, float(size)))
    return _share_chart(bad, sizes, "np", share, false_alarm)


def exact_c_chart(
    faults: ArrayLike, *, mean: float | None = None, false_alarm: float = THREE_SIGMA_CHANCE
) -> ExactChart:
    r"""
    Chart of the number of faults in points of one size with the limits of `poisson_limits`.

    Parameters
    ----------
    faults : array_like of int, shape (n_points,)
        Faults counted.
    mean : float, optional
        Known mean count of a point, above 0; default :math:`\bar c`.
    false_alarm : float
        :math:`\alpha`, chance of a stable point beyond either limit at most.

    Returns
    -------
    ExactChart

    Raises
    ------
    ValueError
        Counts are not whole or negative, *mean* is not above 0 or *false_alarm* not between 0
        and 1.
    NotEnoughError
        There is no point, or *mean* is not known and no fault was found.

    References
    ----------
    As for `binomial_limits`.

    Examples
    --------
    >>> found = exact_c_chart([16, 12, 30], mean=16.0)
    >>> float(found.chart.limits.upper[0]), [signal.at for signal in found.chart.signals]
    (29.0, [2])
    """
    count = whole_counts("faults", faults)
    return _rate_chart(count, np.ones(count.shape), "c", mean, false_alarm)


def exact_u_chart(
    faults: ArrayLike,
    area: ArrayLike,
    *,
    rate: float | None = None,
    false_alarm: float = THREE_SIGMA_CHANCE,
) -> ExactChart:
    r"""
    Chart of faults per unit of area with the limits of `poisson_limits`, each for its own area.

    Parameters
    ----------
    faults : array_like of int, shape (n_points,)
        Faults counted.
    area : array_like, shape (n_points,)
        What was looked at, in any one unit; 0 makes a gap (NaN).
    rate : float, optional
        Known faults per unit of *area*, above 0; default :math:`\bar u`.
    false_alarm : float
        :math:`\alpha`, chance of a stable point beyond either limit at most.

    Returns
    -------
    ExactChart
        Values and limits of the chart per unit of *area*.

    Raises
    ------
    ValueError
        Counts are not whole, something is negative, *rate* is not above 0 or *false_alarm* not
        between 0 and 1.
    NotEnoughError
        Nothing was looked at, or *rate* is not known and no fault was found.

    References
    ----------
    As for `binomial_limits`.

    Examples
    --------
    >>> exact_u_chart([4, 6], [2.0, 4.0], rate=2.0).chart.limits.upper.tolist()
    [5.5, 4.5]
    """
    return _rate_chart(*counts_and_area(faults, area), "u", rate, false_alarm)


def _share_chart(
    bad: Floats, size: Floats, kind: str, known: float | None, false_alarm: float
) -> ExactChart:
    used = size > 0.0
    if not used.any() or (known is None and bad.sum() in (0.0, size.sum())):
        msg = "Limits of a share need items that failed and items that passed, or a known share."
        raise NotEnoughError(msg)
    share = float(bad.sum() / size.sum()) if known is None else chance("share", known)
    limits = binomial_limits(size[used], share, false_alarm=false_alarm)
    unit = np.where(used, size if kind == "p" else 1.0, np.nan)
    sigma = math.sqrt(share * (1.0 - share) / float(size[used].mean()))
    scale = 1.0 if kind == "p" else float(size[0])
    source = "binomial" + (", share of failures given" if known is not None else "")
    return _chart(bad, unit, kind, limits, (share * scale, sigma * scale, source))


def _rate_chart(
    faults: Floats, area: Floats, kind: str, known: float | None, false_alarm: float
) -> ExactChart:
    used = area > 0.0
    if not used.any() or (known is None and not faults[used].any()):
        msg = "Limits of a rate need a point that was looked at and a fault, or a known rate."
        raise NotEnoughError(msg)
    if known is None:
        rate = float(faults[used].sum() / area[used].sum())
    else:
        rate = real("mean" if kind == "c" else "rate", known, above=0.0)
    limits = poisson_limits(rate * area[used], false_alarm=false_alarm)
    sigma = math.sqrt(rate / float(area[used].mean()))
    source = "Poisson" + (", mean given" if known is not None else "")
    return _chart(faults, np.where(used, area, np.nan), kind, limits, (rate, sigma, source))


def _chart(
    count: Floats, unit: Floats, kind: str, limits: CountLimits, law: tuple[float, float, str]
) -> ExactChart:
    """Chart of counts in a unit of each point, NaN where it is a gap."""
    used = ~np.isnan(unit)
    lower, upper = np.full((2, *count.shape), np.nan)
    lower[used], upper[used] = limits.lower, limits.upper
    centre, sigma, source = law
    chart = Chart(
        kind=f"{kind}, probability limits",
        values=frozen(count / unit),
        limits=Limits(
            centre=centre,
            lower=frozen(lower / unit),
            upper=frozen(upper / unit),
            sigma=sigma,
            sigma_from=source,
            degrees_of_freedom=math.inf,
        ),
        signals=signals_beyond(np.where(used, count, np.nan), lower, upper),
        false_alarm=float(1.0 - np.prod(1.0 - limits.below - limits.above)),
        notes=() if used.all() else ("Points that hold nothing are left empty and passed over.",),
    )
    return ExactChart(chart, limits)
