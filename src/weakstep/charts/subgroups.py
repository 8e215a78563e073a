"""Charts of subgroups: means with ranges, means with standard deviations."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.factors import Constants, constants, range_cdf
from weakstep.charts.false_alarms import false_alarm
from weakstep.charts.frozen import frozen
from weakstep.charts.model import Chart, Limits
from weakstep.charts.patterns import DEFAULT_PATTERNS, find_signals
from weakstep.errors import NotEnoughError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

_WIDTH = 3.0  # sigmas from the centre line to a limit


def mean_range(values: ArrayLike) -> tuple[Chart, Chart]:
    r"""
    Chart of subgroup means with limits from subgroup ranges, and chart of the ranges.

    With equal subgroups of *n*, limits lie at :math:`\bar{\bar x} \pm A_2 \bar R`, and at
    :math:`D_3 \bar R` and :math:`D_4 \bar R`. With unequal ones, sigma is the mean of
    :math:`R_i / d_2(n_i)` weighted by :math:`d_2^2 / d_3^2`, the unbiased mean of least variance,
    and each point has limits for its own size.

    Parameters
    ----------
    values : array_like, shape (n_subgroups, largest_size)
        One subgroup per row in time order, all in one unit; NaN fills smaller subgroups. A
        subgroup of one value has a mean but no range; an empty one is a gap.

    Returns
    -------
    mean, range : Chart
        Both shape (n_subgroups,), in the unit of *values*.

    Raises
    ------
    ValueError
        *values* is not a table of finite numbers or NaN.
    NotEnoughError
        No subgroup has two values, or all ranges are 0.

    References
    ----------
    ISO 7870-2, Control charts, Part 2: Shewhart control charts. I. W. Burr (1969), Control charts
    for measurements with varying sample sizes, Journal of Quality Technology 1, 163-167.

    Examples
    --------
    >>> means, ranges = mean_range([[10.0, 12.0], [11.0, 14.0], [9.0, 10.0]])
    >>> round(float(means.limits.upper[0]), 2), round(float(ranges.limits.upper[0]), 3)
    (14.76, 6.533)
    """
    table, sizes = _subgroups(values)
    ranges = np.full(len(table), np.nan)
    measured = sizes >= 2
    ranges[measured] = np.nanmax(table[measured], axis=1) - np.nanmin(table[measured], axis=1)
    points = [constants(int(size)) if size >= 2 else None for size in sizes]
    factors = np.array([(c.d2, c.d3) if c else (np.nan, np.nan) for c in points])
    estimate = _pooled_sigma(ranges, factors)
    chance = [_range_alarm(c) for c in points if c]
    return (
        _mean_chart(table, sizes, estimate, "range"),
        _spread_chart(ranges, sizes, factors, estimate, "range", chance),
    )


def mean_sd(values: ArrayLike) -> tuple[Chart, Chart]:
    r"""
    Chart of subgroup means with limits from subgroup standard deviations, and chart of these.

    With equal subgroups of *n*, limits lie at :math:`\bar{\bar x} \pm A_3 \bar s`, and at
    :math:`B_3 \bar s` and :math:`B_4 \bar s`. With unequal ones, sigma is the mean of
    :math:`s_i / c_4(n_i)` weighted by :math:`c_4^2 / (1 - c_4^2)`, the unbiased mean of least
    variance, and each point has limits for its own size.

    Parameters
    ----------
    values : array_like, shape (n_subgroups, largest_size)
        As for `mean_range`.

    Returns
    -------
    mean, sd : Chart
        Both shape (n_subgroups,), in the unit of *values*.

    Raises
    ------
    ValueError
        *values* is not a table of finite numbers or NaN.
    NotEnoughError
        No subgroup has two values, or all standard deviations are 0.

    References
    ----------
    As for `mean_range`.

    Examples
    --------
    >>> means, spreads = mean_sd([[10.0, 12.0], [11.0, 14.0], [9.0, 10.0]])
    >>> round(float(means.limits.upper[0]), 2), round(float(spreads.limits.upper[0]), 3)
    (14.76, 4.62)
    """
    table, sizes = _subgroups(values)
    spreads = np.full(len(table), np.nan)
    measured = sizes >= 2
    spreads[measured] = np.nanstd(table[measured], axis=1, ddof=1)
    points = [constants(int(size)) if size >= 2 else None for size in sizes]
    factors = np.array(
        [(c.c4, math.sqrt(1.0 - c.c4**2)) if c else (np.nan, np.nan) for c in points]
    )
    estimate = _pooled_sigma(spreads, factors)
    chance = [_sd_alarm(c) for c in points if c]
    return (
        _mean_chart(table, sizes, estimate, "standard deviation"),
        _spread_chart(spreads, sizes, factors, estimate, "standard deviation", chance),
    )


def _subgroups(values: ArrayLike) -> tuple[Floats, NDArray[np.intp]]:
    """Return the table and the size of each subgroup; raise when no chart can be made."""
    table = np.array(values, dtype=float)
    if table.ndim != 2 or np.isinf(table).any():
        msg = f"values must be a table of finite numbers or NaN, got shape {table.shape}"
        raise ValueError(msg)
    sizes = (~np.isnan(table)).sum(axis=1)
    if not (sizes >= 2).any():
        msg = "A chart of subgroups needs at least one subgroup of 2 or more values; there is none."
        raise NotEnoughError(msg)
    return table, sizes


def _pooled_sigma(statistic: Floats, factors: Floats) -> tuple[float, float]:
    """Sigma and its degrees of freedom from ranges or standard deviations of each subgroup."""
    mean, spread = factors[~np.isnan(statistic)].T
    known = statistic[~np.isnan(statistic)]
    weight = (mean / spread) ** 2
    sigma = float(weight @ (known / mean) / weight.sum())
    if sigma == 0.0:
        msg = "Within every subgroup all values are equal, so there is no variation to chart."
        raise NotEnoughError(msg)
    return sigma, float(weight.sum() / 2.0)


def _mean_chart(
    table: Floats, sizes: NDArray[np.intp], estimate: tuple[float, float], kind: str
) -> Chart:
    sigma, freedom = estimate
    used = sizes > 0
    means = np.full(len(table), np.nan)
    means[used] = np.nanmean(table[used], axis=1)
    centre = float(np.nansum(table) / sizes.sum())
    error = sigma / np.sqrt(np.where(used, sizes, np.nan))
    return Chart(
        kind="mean",
        values=frozen(means),
        limits=Limits(
            centre=centre,
            lower=frozen(centre - _WIDTH * error),
            upper=frozen(centre + _WIDTH * error),
            sigma=sigma / math.sqrt(_commonest(sizes)),
            sigma_from=f"mean {kind} of subgroups",
            degrees_of_freedom=freedom,
        ),
        signals=find_signals((means - centre) / error, DEFAULT_PATTERNS),
        false_alarm=false_alarm(int(used.sum()), DEFAULT_PATTERNS),
    )


def _spread_chart(
    statistic: Floats,
    sizes: NDArray[np.intp],
    factors: Floats,
    estimate: tuple[float, float],
    kind: str,
    chance: list[float],
) -> Chart:
    sigma, freedom = estimate
    centre, spread = sigma * factors[:, 0], sigma * factors[:, 1]
    commonest = _commonest(sizes)
    typical = int(np.flatnonzero(sizes == commonest)[0])
    uneven = len(np.unique(sizes[sizes >= 2])) > 1
    note = (
        "Subgroups differ in size: each point has its own limits, and the centre line of this "
        f"chart is that of {commonest} values."
    )
    return Chart(
        kind=kind,
        values=frozen(statistic),
        limits=Limits(
            centre=float(centre[typical]),
            lower=frozen(np.maximum(centre - _WIDTH * spread, 0.0)),
            upper=frozen(centre + _WIDTH * spread),
            sigma=float(spread[typical]),
            sigma_from=f"mean {kind} of subgroups",
            degrees_of_freedom=freedom,
        ),
        signals=find_signals((statistic - centre) / spread, ("beyond_limit",)),
        false_alarm=float(1.0 - np.prod(1.0 - np.array(chance))),
        notes=(note,) if uneven else (),
    )


def _commonest(sizes: NDArray[np.intp]) -> int:
    """Commonest size of the subgroups that have a spread."""
    return int(np.bincount(sizes[sizes >= 2]).argmax())


def _range_alarm(point: Constants) -> float:
    """Chance that a stable range lies beyond its limits."""
    below, above = range_cdf([point.D1, point.D2], point.n)
    return float(below + 1.0 - above)


def _sd_alarm(point: Constants) -> float:
    """Chance that a stable standard deviation lies beyond its limits (chi-squared)."""
    from scipy.special import chdtr, chdtrc

    freedom = point.n - 1
    return float(chdtr(freedom, freedom * point.B5**2) + chdtrc(freedom, freedom * point.B6**2))
