"""Charts of faults: number of faults per point or per unit of area."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.attributes import check_zone_patterns, signals_off_centre
from weakstep.charts.checks import numbers, real, whole_counts
from weakstep.charts.count_zones import poisson_zones
from weakstep.charts.frozen import frozen
from weakstep.charts.laney import Widen, laney_factor, widening
from weakstep.charts.looks import Look
from weakstep.charts.model import Chart, Limits
from weakstep.charts.patterns import DEFAULT_PATTERNS
from weakstep.charts.run_lengths import survival
from weakstep.charts.zone_chain import USUAL_WIDTH
from weakstep.errors import NotEnoughError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from weakstep.charts.pattern_shapes import Pattern

    Floats = NDArray[np.float64]


def c_chart(
    faults: ArrayLike,
    *,
    mean: float | None = None,
    patterns: Sequence[str | Pattern] = DEFAULT_PATTERNS,
    width: float = USUAL_WIDTH,
) -> Chart:
    r"""
    Chart of the number of faults in points of one size: :math:`\bar c \pm 3 \sqrt{\bar c}`.

    Parameters
    ----------
    faults : array_like of int, shape (n_points,)
        Faults counted.
    mean : float, optional
        Known mean count of a point, above 0; default :math:`\bar c`.
    patterns : sequence of str or pattern
        Looked for on the chart; no patterns of steps, as counts may be equal.
    width : float, default 3
        Sigmas to the limits; other lines of the patterns move with it, as in `pattern_width`.

    Returns
    -------
    Chart

    Raises
    ------
    ValueError
        Counts are not whole or negative, or *mean* is not above 0.
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
    count = whole_counts("faults", faults)
    return rate_chart(count, np.ones(count.shape), "c", mean, "never", Look.of(patterns, width))


def u_chart(
    faults: ArrayLike,
    area: ArrayLike,
    *,
    rate: float | None = None,
    allow_overdispersion: bool = False,
    patterns: Sequence[str | Pattern] = DEFAULT_PATTERNS,
    width: float = USUAL_WIDTH,
) -> Chart:
    r"""
    Chart of faults per unit of area (or time, or items): :math:`\bar u \pm 3 \sqrt{\bar u / a_i}`.

    Parameters
    ----------
    faults : array_like of int, shape (n_points,)
        Faults counted.
    area : array_like, shape (n_points,)
        What was looked at, in any one unit; 0 makes a gap (NaN).
    rate : float, optional
        Known faults per unit of *area*, above 0; default :math:`\bar u`.
    allow_overdispersion : bool, default False
        Widen the limits by Laney's factor where rates scatter from point to point more than a
        Poisson process would; a note tells it in any case. `laney_u_chart` uses the factor
        whatever it is.
    patterns : sequence of str or pattern
        Looked for on the chart; no patterns of steps, as counts may be equal.
    width : float, default 3
        Sigmas to the limits; other lines of the patterns move with it, as in `pattern_width`.

    Returns
    -------
    Chart
        Values and limits per unit of *area*.

    Raises
    ------
    ValueError
        Counts are not whole, or something is negative, or *rate* is not above 0.
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
    widen: Widen = "beyond chance" if allow_overdispersion else "never"
    return rate_chart(*counts_and_area(faults, area), "u", rate, widen, Look.of(patterns, width))


def counts_and_area(faults: ArrayLike, area: ArrayLike) -> tuple[Floats, Floats]:
    """Return faults and what was looked at as two rows; raise when they cannot be that."""
    count, looked_at = whole_counts("faults", faults), numbers("area", area)
    if count.shape != looked_at.shape:
        msg = f"faults and area must be rows of one length, got {count.shape} and {looked_at.shape}"
        raise ValueError(msg)
    if not (np.isfinite(looked_at) & (looked_at >= 0)).all():
        msg = "area must hold finite numbers, none negative"
        raise ValueError(msg)
    return count, looked_at


def rate_chart(
    faults: Floats,
    area: Floats,
    kind: str,
    known: float | None,
    widen: Widen,
    look: Look,
) -> Chart:
    """Chart of rates, with limits widened by Laney's factor never, beyond chance, or always."""
    used = area > 0
    if not used.any():
        msg = "A chart of faults needs at least one point that was looked at; there is none."
        raise NotEnoughError(msg)
    if known is None:
        rate = float(faults[used].sum() / area[used].sum())
    else:
        rate = real("mean" if kind == "c" else "rate", known, above=0.0)
    with_area = np.where(used, area, np.nan)
    sigma = np.sqrt(rate / with_area)
    off = faults / with_area - rate
    scatter = laney_factor(off[used], sigma[used])
    factor = widening(widen, scatter, off[used], sigma[used])
    return Chart(
        kind=kind,
        values=frozen(faults / with_area),
        limits=Limits(
            centre=rate,
            lower=frozen(np.maximum(rate - look.width * factor * sigma, 0.0)),
            upper=frozen(rate + look.width * factor * sigma),
            sigma=math.sqrt(rate / float(area[used].mean())) * factor,
            sigma_from="Poisson"
            + (", mean given" if known is not None else "")
            + (", times Laney's sigma of z" if factor != 1.0 else ""),
            degrees_of_freedom=math.inf,
        ),
        signals=signals_off_centre(off, np.where(used, sigma, 0.0) * factor, look),
        false_alarm=_rate_false_alarm(rate * area[used], factor, look),
        notes=_rate_notes(faults, scatter, factor) if widen != "always" else (),
    )


def _rate_false_alarm(expected: Floats, factor: float, look: Look) -> float:
    """Chance of a signal on a stable chart whose points expect so many faults."""
    check_zone_patterns(look)
    if not expected.any():
        return 0.0
    if factor != 1.0:  # limits by Laney's factor take the rates as normal
        return look.false_alarm(len(expected))
    zones = poisson_zones(expected, lines=look.lines)
    return float(1.0 - survival(len(expected), look.patterns, zones)[-1])


def _rate_notes(faults: Floats, scatter: float, factor: float) -> tuple[str, ...]:
    if not faults.any():
        return ("No fault was found, so there is no variation to chart.",)
    if scatter == 1.0:
        return ()
    done = "limits were widened by that factor" if factor > 1.0 else "signals come too often"
    return (
        f"Rates scatter {scatter:.2f} times as much from point to point as chance allows, "
        f"so {done}.",
    )
