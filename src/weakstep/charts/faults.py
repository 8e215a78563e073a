"""Charts of faults: number of faults per point or per unit of area."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.attributes import are_counts, signals_off_centre
from weakstep.charts.false_alarm import poisson_zones
from weakstep.charts.frozen import frozen
from weakstep.charts.model import Chart, Limits
from weakstep.charts.patterns import DEFAULT_PATTERNS
from weakstep.charts.run_lengths import survival
from weakstep.errors import NotEnoughError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

_WIDTH = 3.0  # sigmas from the centre line to a limit


def c_chart(faults: ArrayLike) -> Chart:
    r"""
    Chart of the number of faults in points of one size: :math:`\bar c \pm 3 \sqrt{\bar c}`.

    Parameters
    ----------
    faults : array_like of int, shape (n_points,)
        Faults counted.

    Returns
    -------
    Chart

    Raises
    ------
    ValueError
        Counts are not whole or negative.
    NotEnoughError
        There is no point.

    References
    ----------
    ISO 7870-2, Control charts, Part 2: Shewhart control charts.

    Examples
    --------
    >>> chart = c_chart([16, 12, 20])
    >>> chart.limits.centre, float(chart.limits.upper[0]), float(chart.limits.lower[0])
    (16.0, 28.0, 4.0)
    """
    count = np.asarray(faults, dtype=float)
    return _rate_chart(count, np.ones(count.shape), "c")


def u_chart(faults: ArrayLike, area: ArrayLike) -> Chart:
    r"""
    Chart of faults per unit of area (or time, or items): :math:`\bar u \pm 3 \sqrt{\bar u / a_i}`.

    Parameters
    ----------
    faults : array_like of int, shape (n_points,)
        Faults counted.
    area : array_like, shape (n_points,)
        What was looked at, in any one unit; 0 makes a gap (NaN).

    Returns
    -------
    Chart
        Values and limits per unit of *area*.

    Raises
    ------
    ValueError
        Counts are not whole, or something is negative.
    NotEnoughError
        Nothing was looked at.

    References
    ----------
    ISO 7870-2, Control charts, Part 2: Shewhart control charts.

    Examples
    --------
    >>> u_chart([4, 6], [2.0, 3.0]).limits.upper.round(3).tolist()
    [5.0, 4.449]
    """
    return _rate_chart(np.asarray(faults, dtype=float), np.asarray(area, dtype=float), "u")


def _rate_chart(faults: Floats, area: Floats, kind: str) -> Chart:
    if faults.ndim != 1 or faults.shape != area.shape:
        msg = f"faults and area must be rows of one length, got {faults.shape} and {area.shape}"
        raise ValueError(msg)
    if not are_counts(faults) or not (np.isfinite(area) & (area >= 0)).all():
        msg = "faults must be whole counts and area finite, neither negative"
        raise ValueError(msg)
    used = area > 0
    if not used.any():
        msg = "A chart of faults needs at least one point that was looked at; there is none."
        raise NotEnoughError(msg)
    rate = float(faults[used].sum() / area[used].sum())
    with_area = np.where(used, area, np.nan)
    sigma = np.sqrt(rate / with_area)
    notes = ("No fault was found, so there is no variation to chart.",) if rate == 0.0 else ()
    zones = poisson_zones(rate * area[used]) if rate > 0.0 else None
    alarm = 0.0 if zones is None else 1.0 - survival(len(zones), DEFAULT_PATTERNS, zones)[-1]
    return Chart(
        kind=kind,
        values=frozen(faults / with_area),
        limits=Limits(
            centre=rate,
            lower=frozen(np.maximum(rate - _WIDTH * sigma, 0.0)),
            upper=frozen(rate + _WIDTH * sigma),
            sigma=math.sqrt(rate / float(area[used].mean())),
            sigma_from="Poisson",
            degrees_of_freedom=math.inf,
        ),
        signals=signals_off_centre(faults / with_area - rate, np.where(used, sigma, 0.0)),
        false_alarm=float(alarm),
        notes=notes,
    )
