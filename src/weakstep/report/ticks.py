"""Where an axis gets its ticks, and what they say."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

import numpy as np

from weakstep.report.words import plain, short_date

A_YEAR = np.timedelta64(366, "D")
ISO_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")
NICE = (1.0, 2.0, 2.5, 5.0, 10.0)


def linear_ticks(low: float, high: float, wanted: int = 5) -> list[float]:
    """
    Return round positions within a range.

    Examples
    --------
    >>> linear_ticks(0.0, 0.43)
    [0.0, 0.1, 0.2, 0.3, 0.4]
    >>> linear_ticks(3.0, 3.0)
    [3.0]
    """
    if not high > low:
        return [low]
    rough = (high - low) / max(1, wanted)
    unit = 10.0 ** math.floor(math.log10(rough))
    width = next(step * unit for step in NICE if step * unit >= rough * 0.999)
    first = math.ceil(low / width - 1e-9)
    last = math.floor(high / width + 1e-9)
    digits = max(0, 2 - math.floor(math.log10(width)))
    return [round(number * width, digits) for number in range(first, last + 1)]


def log_ticks(low: float, high: float) -> list[float]:
    """
    Return round positions within a positive range, for an axis of factors.

    Examples
    --------
    >>> log_ticks(8.0, 250.0)
    [10.0, 20.0, 50.0, 100.0, 200.0]
    """
    steps = (1.0, 2.0, 5.0)
    powers = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    found = [step * 10.0**power for power in powers for step in steps]
    inside = [tick for tick in found if low <= tick <= high]
    if len(inside) > 7:
        inside = [tick for tick in inside if f"{tick:e}".startswith("1")]
    return inside if len(inside) > 1 else linear_ticks(low, high)


def number_ticks(low: float, high: float, *, log: bool = False) -> list[tuple[float, str]]:
    """Return ticks with as many decimals as their spacing needs."""
    places = log_ticks(low, high) if log else linear_ticks(low, high)
    return [(place, shortest(place)) for place in places]


def percent_ticks(low: float, high: float) -> list[tuple[float, str]]:
    """Return ticks for shares, as per cent."""
    places = linear_ticks(low, high)
    decimals = 0 if all(abs(place * 100 - round(place * 100)) < 1e-6 for place in places) else 1
    return [(place, f"{plain(place * 100, decimals)}\u00a0%") for place in places]


def shortest(value: float) -> str:
    """
    Return a tick's number without needless zeros.

    Examples
    --------
    >>> shortest(2.50), shortest(-3.0), shortest(1200.0)
    ('2.5', '−3', '1200')
    """
    return f"{value:.6g}".replace("-", "\u2212")


def run_ticks(started_at: np.ndarray, wanted: int = 5) -> list[tuple[float, str]]:
    """
    Return ticks for runs in time order (numbered from 1): dates where known, else run numbers.

    Parameters
    ----------
    started_at : array of datetime64, shape (n_runs,)
    wanted : int
        Most ticks to return, at least 2.
    """
    count = len(started_at)
    places = sorted({round(place) for place in np.linspace(0, count - 1, min(wanted, count))})
    moments = np.asarray(started_at, dtype="datetime64[ns]")
    if np.isnat(moments).all():
        return [(place + 1.0, str(place + 1)) for place in places]
    known = moments[~np.isnat(moments)]
    year = known.max() - known.min() > A_YEAR
    return [(place + 1.0, short_date(moments[place], year=bool(year))) for place in places]


def period_ticks(labels: Sequence[str], wanted: int = 5) -> list[tuple[float, str]]:
    """
    Return at most *wanted* of the labels of a chart as ticks at 1, 2, ...; ISO dates in words.

    Examples
    --------
    >>> period_ticks(["2026-03-02", "2026-03-09"]), period_ticks(["runs 1-10"])
    ([(1.0, '2 Mar'), (2.0, '9 Mar')], [(1.0, 'runs 1-10')])
    """
    if not labels:
        return []
    places = sorted({round(place) for place in np.linspace(0, len(labels) - 1, wanted)})
    if not all(ISO_DATE.fullmatch(label) for label in labels):
        return [(place + 1.0, labels[place]) for place in places]
    days = np.array(labels, dtype="datetime64[D]")
    year = bool(days.max() - days.min() > A_YEAR)
    return [(place + 1.0, short_date(days[place], year=year)) for place in places]


def padded(low: float, high: float, *, log: bool = False) -> tuple[float, float]:
    """
    Return a range a little wider than the data, and never empty.

    Examples
    --------
    >>> padded(0.0, 100.0), padded(5.0, 5.0)
    ((-5.0, 105.0), (4.5, 5.5))
    """
    if log:
        edges = padded(math.log10(low), math.log10(high))
        return 10.0 ** edges[0], 10.0 ** edges[1]
    margin = 0.05 * (high - low) if high > low else 0.1 * abs(low) or 1.0
    return low - margin, high + margin
