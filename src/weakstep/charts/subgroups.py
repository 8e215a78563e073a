"""Charts of subgroups: means with ranges, means with standard deviations, medians with ranges."""

from __future__ import annotations

from typing import TYPE_CHECKING, get_args

import numpy as np

from weakstep.charts.checks import real
from weakstep.charts.frozen import frozen
from weakstep.charts.looks import Look
from weakstep.charts.median_laws import median_sd, median_zones
from weakstep.charts.model import Chart, Limits
from weakstep.charts.patterns import DEFAULT_PATTERNS
from weakstep.charts.run_lengths import survival
from weakstep.charts.subgroup_tables import SdBy, SubgroupTable
from weakstep.charts.zone_chain import USUAL_WIDTH

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from weakstep.charts.pattern_shapes import Pattern


def mean_range(
    values: ArrayLike,
    *,
    centre: float | None = None,
    sigma: float | None = None,
    patterns: Sequence[str | Pattern] = DEFAULT_PATTERNS,
    width: float = USUAL_WIDTH,
) -> tuple[Chart, Chart]:
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
    centre, sigma : float, optional
        Known mean and standard deviation of a single value, in the unit; default estimated. With
        both, limits are :math:`\mu \pm A \sigma`, :math:`D_1 \sigma` and :math:`D_2 \sigma`.
    patterns : sequence of str or pattern
        Looked for on the chart of means, see `weakstep.charts.patterns`; default points beyond a
        limit and nine in a row on one side.
    width : float, default 3
        Sigmas to the limits of means; other lines of the patterns move with it, as in
        `pattern_width`. The chart of spreads keeps three sigma.

    Returns
    -------
    mean, range : Chart
        Both shape (n_subgroups,), in the unit of *values*.

    Raises
    ------
    ValueError
        *values* is not a table of finite numbers or NaN, or a known value is out of range.
    NotEnoughError
        No subgroup has two values, or all ranges are 0 and *sigma* is not known.

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
    table = SubgroupTable.with_ranges(values, sigma)
    return table.mean_chart(centre, Look.of(patterns, width)), table.spread_chart()


def mean_sd(
    values: ArrayLike,
    *,
    sigma_by: SdBy = "mean standard deviation",
    centre: float | None = None,
    sigma: float | None = None,
    patterns: Sequence[str | Pattern] = DEFAULT_PATTERNS,
    width: float = USUAL_WIDTH,
) -> tuple[Chart, Chart]:
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
    sigma_by : str
        "mean standard deviation" (default), "pooled standard deviation" or "pooled standard
        deviation / c4".
        Pooled: :math:`s_p / c_4(f + 1)` with :math:`s_p^2 = \sum (n_i - 1) s_i^2 / f` and
        :math:`f = \sum (n_i - 1)`, which one wild subgroup moves more and chance moves less. The
        last is the textbooks' rule for unequal sizes, limits :math:`\bar{\bar x} \pm A_3(n_i) s_p`,
        :math:`B_3 s_p` and :math:`B_4 s_p`: a little too wide, as :math:`s_p` is hardly biased.
    centre, sigma : float, optional
        As for `mean_range`; with both, limits are :math:`\mu \pm A \sigma`, :math:`B_5 \sigma`
        and :math:`B_6 \sigma`.
    patterns, width
        As for `mean_range`.

    Returns
    -------
    mean, sd : Chart
        Both shape (n_subgroups,), in the unit of *values*.

    Raises
    ------
    ValueError
        *values* is not a table of finite numbers or NaN, or a known value is out of range.
    NotEnoughError
        No subgroup has two values, or all standard deviations are 0 and *sigma* is not known.

    References
    ----------
    As for `mean_range`.

    Examples
    --------
    >>> means, spreads = mean_sd([[10.0, 12.0], [11.0, 14.0], [9.0, 10.0]])
    >>> round(float(means.limits.upper[0]), 2), round(float(spreads.limits.upper[0]), 3)
    (14.76, 4.62)
    """
    if sigma_by not in get_args(SdBy):
        msg = f"sigma_by must be one of {', '.join(map(repr, get_args(SdBy)))}, got {sigma_by!r}"
        raise ValueError(msg)
    table = SubgroupTable.with_sds(values, sigma, sigma_by)
    return table.mean_chart(centre, Look.of(patterns, width)), table.spread_chart()


def median_range(
    values: ArrayLike,
    *,
    centre: float | None = None,
    sigma: float | None = None,
    patterns: Sequence[str | Pattern] = DEFAULT_PATTERNS,
    width: float = USUAL_WIDTH,
) -> tuple[Chart, Chart]:
    r"""
    Chart of subgroup medians with limits from subgroup ranges, and chart of the ranges.

    With equal subgroups of *n*, limits lie at the mean of the medians :math:`\pm A_4 \bar R`,
    :math:`A_4 = 3\, \mathrm{sd}(\tilde x) / d_2`. With unequal ones the mean is weighted by
    :math:`1 / \mathrm{sd}^2(\tilde x)`, and each point has limits for its own size. The chance of
    a false alarm is exact: medians of few values are not quite normal.

    Parameters
    ----------
    values, centre, sigma, patterns, width
        As for `mean_range`; no patterns of steps where subgroups differ in size.

    Returns
    -------
    median, range : Chart
        Both shape (n_subgroups,), in the unit of *values*.

    Raises
    ------
    ValueError, NotEnoughError
        As for `mean_range`.

    References
    ----------
    ISO 7870-2, Control charts, Part 2: Shewhart control charts.

    Examples
    --------
    >>> medians, ranges = median_range([[10.0, 12.0, 13.0], [11.0, 14.0, 12.0]])
    >>> medians.values.tolist(), round(float(medians.limits.upper[0]), 3)
    ([12.0, 12.0], 15.562)
    """
    table, look = SubgroupTable.with_ranges(values, sigma), Look.of(patterns, width)
    used = table.sizes > 0
    medians = np.full(len(used), np.nan)
    medians[used] = np.nanmedian(table.values[used], axis=1)
    error = np.array([table.sigma * median_sd(int(n)) if n else np.nan for n in table.sizes])
    weight = 1.0 / error[used] ** 2
    middle = (
        float(weight @ medians[used] / weight.sum()) if centre is None else real("centre", centre)
    )
    zones = np.array([median_zones(int(n), look.lines) for n in table.sizes[used]])
    if (zones == zones[0]).all():
        zones = zones[0]
    chart = Chart(
        kind="median",
        values=frozen(medians),
        limits=Limits(
            centre=middle,
            lower=frozen(middle - look.width * error),
            upper=frozen(middle + look.width * error),
            sigma=table.sigma * median_sd(table.commonest),
            sigma_from=table.sigma_from,
            degrees_of_freedom=table.freedom,
        ),
        signals=look.signals((medians - middle) / error),
        false_alarm=float(1.0 - survival(int(used.sum()), look.patterns, zones)[-1]),
    )
    return chart, table.spread_chart()
