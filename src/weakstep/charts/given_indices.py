"""Capability indices from a mean, a standard deviation and the number of values behind them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from weakstep.charts.capability_indices import check_tolerance
from weakstep.charts.checks import chance, real, whole_number
from weakstep.charts.index_intervals import (
    centred_index_interval,
    one_sided_index_interval,
    spread_index_interval,
    target_index_interval,
)
from weakstep.charts.normal import normal_cdf
from weakstep.interval import Interval


@dataclass(frozen=True)
class SummaryIndices:
    r"""
    Indices of a normal parameter; None where a limit of the tolerance is missing.

    Attributes
    ----------
    cp : Interval or None
        :math:`(U - L) / 6 s`.
    cpl, cpu : Interval or None
        :math:`(\bar x - L) / 3 s` and :math:`(U - \bar x) / 3 s`.
    cpk : Interval
        The smaller of the two.
    cpm : Interval or None
        :math:`(U - L) / 6 \sqrt{s^2 + (\bar x - T)^2}`.
    outside : float
        Share of a normal distribution with this mean and deviation outside the tolerance.
    """

    cp: Interval | None
    cpl: Interval | None
    cpu: Interval | None
    cpk: Interval
    cpm: Interval | None
    outside: float


def summary_indices(
    mean: float,
    sd: float,
    n_values: int,
    *,
    lower: float | None = None,
    upper: float | None = None,
    target: float | None = None,
    level: float = 0.95,
) -> SummaryIndices:
    r"""
    Capability indices from a summary instead of values.

    Parameters
    ----------
    mean, sd : float
        Of the values, in one unit; *sd* above 0.
    n_values : int
        Behind them, at least 2: it makes the intervals.
    lower, upper : float, optional
        Limits of the tolerance; at least one.
    target : float, optional
        For Cpm, so only with both limits; default the middle of the tolerance.
    level : float, default 0.95

    Returns
    -------
    SummaryIndices
        Intervals: of Cp by chi-squared, of one-sided indices exactly by noncentral *t*, of Cpk with
        two limits by Bissell's formula, of Cpm by Boyles'.

    Raises
    ------
    ValueError
        An argument is out of range, the tolerance is missing or upside down, or *target* is given
        with one limit or lies outside both.

    References
    ----------
    ISO 22514-2; NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6.

    Examples
    --------
    >>> found = summary_indices(16.0, 2.0, 50, lower=8.0, upper=20.0)
    >>> round(found.cp.estimate, 4), round(found.cpk.estimate, 4), round(found.cpl.estimate, 4)
    (1.0, 0.6667, 1.3333)
    """
    check_tolerance(lower, upper)
    chance("level", level)
    count, middle = whole_number("n_values", n_values, 2), real("mean", mean)
    spread = real("sd", sd, above=0.0)
    low = None if lower is None else (middle - lower) / (3.0 * spread)
    high = None if upper is None else (upper - middle) / (3.0 * spread)
    cpl, cpu = (
        None if index is None else one_sided_index_interval(index, count, level)
        for index in (low, high)
    )
    sides = [index for index in (low, high) if index is not None]
    outside = sum(float(normal_cdf(-3.0 * index)) for index in sides)
    if lower is None or upper is None:
        if target is not None:
            msg = "target is for Cpm, which needs both limits: leave target out"
            raise ValueError(msg)
        only = one_sided_index_interval(min(sides), count, level)
        return SummaryIndices(None, cpl, cpu, only, None, outside)
    aim = (lower + upper) / 2.0 if target is None else real("target", target)
    if not lower <= aim <= upper:
        msg = f"target must lie within the tolerance, got {target} outside {lower} to {upper}"
        raise ValueError(msg)
    off = middle - aim
    cpm = (upper - lower) / (6.0 * math.hypot(spread, off))
    return SummaryIndices(
        cp=spread_index_interval((upper - lower) / (6.0 * spread), count - 1.0, level),
        cpl=cpl,
        cpu=cpu,
        cpk=centred_index_interval(min(sides), count, level),
        cpm=target_index_interval(cpm, count, off / spread, level),
        outside=outside,
    )
