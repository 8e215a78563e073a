"""Charts of faults: number of faults per point or per unit of area."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.attributes import are_counts, laney_factor, signals_off_centre
from weakstep.charts.false_alarms import false_alarm, poisson_zones
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
    return _rate_chart(count, np.ones(count.shape), "c", allow_overdispersion=False)


def u_chart(faults: ArrayLike, area: ArrayLike, *, allow_overdispersion: bool = False) -> Chart:
    r"""
    Chart of faults per unit of area (or time, or items): :math:`\bar u \pm 3 \sqrt{\bar u / a_i}`.

    Parameters
    ----------
    faults : array_like of int, shape (n_points,)
        Faults counted.
    area : array_like, shape (n_points,)
        What was looked at, in any one unit; 0 makes a gap (NaN).
    allow_overdispersion : bool, default False
        Widen the limits by Laney's factor where rates scatter from point to point more than a
        Poisson process would; a note tells it in any case.

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
    return _rate_chart(
        np.asarray(faults, dtype=float),
        np.asarray(area, dtype=float),
        "u",
        allow_overdispersion=allow_overdispersion,
    )


def _rate_chart(faults: Floats, area: Floats, kind: str, *, allow_overdispersion: bool) -> Chart:
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
    off = faults / with_area - rate
    scatter = laney_factor(off[used], sigma[used])
    factor = scatter if allow_overdispersion else 1.0
    return Chart(
        kind=kind,
        values=frozen(faults / with_area),
        limits=Limits(
            centre=rate,
            lower=frozen(np.maximum(rate - _WIDTH * factor * sigma, 0.0)),
            upper=frozen(rate + _WIDTH * factor * sigma),
            sigma=math.sqrt(rate / float(area[used].mean())) * factor,
            sigma_from="Poisson" + (", times Laney's sigma of z" if factor > 1.0 else ""),
            degrees_of_freedom=math.inf,
        ),
        signals=signals_off_centre(off, np.where(used, sigma, 0.0) * factor),
        false_alarm=_rate_false_alarm(rate * area[used], factor),
        notes=_rate_notes(rate, scatter, widened=factor > 1.0),
    )


def _rate_false_alarm(expected: Floats, factor: float) -> float:
    """Chance of a signal on a stable chart whose points expect so many faults."""
    if not expected.any():
        return 0.0
    if factor > 1.0:  # the widened limits take the rates as normal
        return false_alarm(len(expected), DEFAULT_PATTERNS)
    zones = poisson_zones(expected)
    return float(1.0 - survival(len(expected), DEFAULT_PATTERNS, zones)[-1])


def _rate_notes(rate: float, scatter: float, *, widened: bool) -> tuple[str, ...]:
    if rate == 0.0:
        return ("No fault was found, so there is no variation to chart.",)
    if scatter == 1.0:
        return ()
    done = "limits were widened by that factor" if widened else "signals come too often"
    return (
        f"Rates scatter {scatter:.2f} times as much from point to point as chance allows, "
        f"so {done}.",
    )
