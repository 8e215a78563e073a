"""Charts of measured values: single values with their moving ranges."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import marked
from weakstep.charts.factors import constants
from weakstep.charts.false_alarms import moving_range_false_alarm
from weakstep.charts.fitness import notes_on
from weakstep.charts.frozen import constant_line, frozen
from weakstep.charts.looks import Look
from weakstep.charts.model import Chart, Limits
from weakstep.charts.patterns import DEFAULT_PATTERNS, find_signals
from weakstep.charts.row_checks import one_row
from weakstep.charts.single_values import Estimate, Row, SigmaBy, estimate
from weakstep.charts.zone_chain import USUAL_WIDTH
from weakstep.errors import NotEnoughError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from weakstep.charts.pattern_shapes import Pattern

_GAPS = "Missing values are passed over: neighbours are the logged values beside a gap."


def individuals(
    values: ArrayLike,
    *,
    log_scale: bool = False,
    baseline: ArrayLike | None = None,
    sigma_by: SigmaBy = "mean moving range",
    centre: float | None = None,
    sigma: float | None = None,
    patterns: Sequence[str | Pattern] = DEFAULT_PATTERNS,
    width: float = USUAL_WIDTH,
) -> tuple[Chart, Chart]:
    r"""
    Individuals chart and moving-range chart of one value per run.

    With :math:`\overline{MR}` the mean of :math:`|x_i - x_{i-1}|`, limits lie at
    :math:`\bar x \pm 3\,\overline{MR} / d_2` and, for moving ranges, at 0 and
    :math:`D_4 \overline{MR}`. A missing value is passed over: the moving range across a gap is the
    difference of the two logged values beside it and stands at the later one.

    Parameters
    ----------
    values : array_like, shape (n_runs,)
        In time order, all in one unit; NaN where not logged.
    log_scale : bool, default False
        Compute on the scale of logarithms and show back in the unit: the centre line becomes the
        geometric mean, and moving ranges the ratio of the larger to the smaller neighbour. Values
        that are not all positive keep the linear scale, and a note says so.
    baseline : array_like of bool, shape (n_runs,), or of int, optional
        Runs that centre and sigma are estimated from, default all: a truth value for each, or the
        places (from 0) of some. Moving ranges count where both values belong to it and no run in
        between was left out.
    sigma_by : {"mean moving range", "median moving range", "standard deviation"}
        Sigma is the mean moving range / 1.128, the median moving range / 0.954 (one wild value
        hardly moves it), or :math:`s / c_4` (which a drift widens).
    centre, sigma : float, optional
        Known values, in the unit (for a log scale: the centre in the unit, sigma of ln).
    patterns : sequence of str or pattern
        Looked for on the chart of values, see `weakstep.charts.patterns`; default points beyond a
        limit and nine in a row on one side.
    width : float, default 3
        Sigmas to the limits of values; other lines of the patterns move with it, as in
        `pattern_width`. Moving ranges keep three sigma.

    Returns
    -------
    individuals, moving_range : Chart
        Both shape (n_runs,). `limits.sigma` is in the unit of *values* (of ln for a log scale).

    Raises
    ------
    ValueError
        A value is infinite, *values* is not one row of numbers, *baseline* has another length or
        names a run that there is not, or a known value is out of range.
    NotEnoughError
        Fewer than 2 logged values (in the baseline), or all of them equal and *sigma* not known; no
        value in the baseline and *centre* not known.

    References
    ----------
    ISO 7870-2, Control charts, Part 2: Shewhart control charts. Degrees of freedom of the mean
    moving range: J. D. Cryer and T. P. Ryan (1990), The estimation of sigma for an X chart,
    Journal of Quality Technology 22, 187-192.

    Examples
    --------
    >>> chart, ranges = individuals([10.0, 12.0, 11.0, 13.0])
    >>> round(chart.limits.sigma, 4), round(float(chart.limits.upper[0]), 2)
    (1.477, 15.93)
    >>> round(float(ranges.limits.upper[0]), 3)
    5.444
    """
    shown = _checked(values, sigma)
    logged = ~np.isnan(shown)
    notes: list[str] = []
    positive = bool((shown[logged] > 0.0).all())
    if log_scale and positive:
        notes.append(
            "Limits were computed on a log scale and are shown in the unit; "
            "moving ranges are ratios of neighbours."
        )
    elif log_scale:
        notes.append("Some values are not positive, so limits were computed on the plain scale.")
    used = marked("baseline", [True] * len(shown) if baseline is None else baseline, len(shown))
    row = Row(shown, logged, log_scale and positive, used)
    found = estimate(row, sigma_by, centre, sigma)
    return (
        _individuals_chart(row, found, tuple(notes), Look.of(patterns, width)),
        _moving_range_chart(row, found, tuple(notes)),
    )


def _checked(values: ArrayLike, sigma: float | None) -> NDArray[np.float64]:
    """Return a frozen copy of *values*; raise when no chart can be made of them."""
    shown = one_row(values)
    logged = shown[~np.isnan(shown)]
    if len(logged) < 2:
        msg = f"A chart of single values needs at least 2 values; {len(logged)} logged."
        raise NotEnoughError(msg)
    if sigma is None and np.ptp(logged) == 0.0:
        msg = f"All {len(logged)} values equal {logged[0]:g}, so there is no variation to chart."
        raise NotEnoughError(msg)
    return shown


def _individuals_chart(row: Row, found: Estimate, notes: tuple[str, ...], look: Look) -> Chart:
    centre, sigma = found.centre, found.sigma
    known = row.known if len(row.known) > 1 else row.scaled[row.logged]
    fitness = notes_on(known, sigma, on_log_scale=row.on_log_scale)
    gaps = () if row.logged.all() else (_GAPS,)
    return Chart(
        kind="individuals",
        values=row.shown,
        limits=Limits(
            centre=float(row.back(centre)),
            lower=constant_line(float(row.back(centre - look.width * sigma)), row.shown),
            upper=constant_line(float(row.back(centre + look.width * sigma)), row.shown),
            sigma=sigma,
            sigma_from=found.sigma_from,
            degrees_of_freedom=found.degrees_of_freedom,
        ),
        signals=look.signals((row.scaled - centre) / sigma),
        false_alarm=look.false_alarm(row.count),
        notes=(*notes, *fitness, *gaps),
    )


def _moving_range_chart(row: Row, found: Estimate, notes: tuple[str, ...]) -> Chart:
    pair = constants(2)
    centre, spread = pair.d2 * found.sigma, pair.d3 * found.sigma
    return Chart(
        kind="moving range",
        values=frozen(row.back(row.ranges)),
        limits=Limits(
            centre=float(row.back(centre)),
            lower=constant_line(float(row.back(pair.D3 * centre)), row.shown),
            upper=constant_line(float(row.back(pair.D4 * centre)), row.shown),
            sigma=spread,
            sigma_from="0.853 sigma of the values, " + found.sigma_from,
            degrees_of_freedom=found.degrees_of_freedom,
        ),
        signals=find_signals((row.ranges - centre) / spread, ("beyond_limit",)),
        false_alarm=moving_range_false_alarm(row.count),
        notes=notes,
    )
