"""Charts of measured values: single values with their moving ranges."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.constants import constants
from weakstep.charts.false_alarm import false_alarm, moving_range_false_alarm
from weakstep.charts.fitness import notes_on
from weakstep.charts.frozen import constant_line, frozen
from weakstep.charts.model import Chart, Limits
from weakstep.charts.patterns import DEFAULT_PATTERNS, find_signals
from weakstep.errors import NotEnoughError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

_WIDTH = 3.0  # sigmas from the centre line to a limit
_GAPS = "Missing values are passed over: neighbours are the logged values beside a gap."


def individuals(values: ArrayLike, *, log_scale: bool = False) -> tuple[Chart, Chart]:
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

    Returns
    -------
    individuals, moving_range : Chart
        Both shape (n_runs,). `limits.sigma` is in the unit of *values* (of ln for a log scale).

    Raises
    ------
    ValueError
        A value is infinite, or *values* is not one row of numbers.
    NotEnoughError
        Fewer than 2 logged values, or all of them equal.

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
    shown = _checked(values)
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
    row = _Row(shown, logged, log_scale and positive)
    return _individuals_chart(row, tuple(notes)), _moving_range_chart(row, tuple(notes))


@dataclass(frozen=True, eq=False)
class _Row:
    """Values as shown, which of them are logged, and the scale the limits are computed on."""

    shown: NDArray[np.float64]
    logged: NDArray[np.bool_]
    on_log_scale: bool

    @cached_property
    def scaled(self) -> NDArray[np.float64]:
        return np.log(self.shown) if self.on_log_scale else self.shown

    @cached_property
    def ranges(self) -> NDArray[np.float64]:
        """Moving ranges on the scale of the limits, each at its later value; else NaN."""
        ranges = np.full(self.shown.shape, np.nan)
        ranges[np.flatnonzero(self.logged)[1:]] = np.abs(np.diff(self.scaled[self.logged]))
        return ranges

    @cached_property
    def sigma(self) -> float:
        return float(np.nanmean(self.ranges)) / constants(2).d2

    @property
    def count(self) -> int:
        return int(self.logged.sum())

    @property
    def sigma_from(self) -> str:
        return "mean moving range / 1.128" + (", of logarithms" if self.on_log_scale else "")

    def back(self, values: ArrayLike) -> NDArray[np.float64]:
        """From the scale of the limits to the unit (from a difference of logs to a ratio)."""
        given = np.asarray(values, dtype=float)
        return np.exp(given) if self.on_log_scale else given.copy()


def _checked(values: ArrayLike) -> NDArray[np.float64]:
    """Return a frozen copy of *values*; raise when no chart can be made of them."""
    shown = np.array(values, dtype=float)
    if shown.ndim != 1 or np.isinf(shown).any():
        msg = f"values must be one row of finite numbers or NaN, got shape {shown.shape}"
        raise ValueError(msg)
    logged = shown[~np.isnan(shown)]
    if len(logged) < 2:
        msg = f"A chart of single values needs at least 2 values; {len(logged)} logged."
        raise NotEnoughError(msg)
    if np.ptp(logged) == 0.0:
        msg = f"All {len(logged)} values equal {logged[0]:g}, so there is no variation to chart."
        raise NotEnoughError(msg)
    shown.flags.writeable = False
    return shown


def _individuals_chart(row: _Row, notes: tuple[str, ...]) -> Chart:
    known = row.scaled[row.logged]
    centre = float(known.mean())
    fitness = notes_on(known, row.sigma, on_log_scale=row.on_log_scale)
    gaps = () if row.logged.all() else (_GAPS,)
    return Chart(
        kind="individuals",
        values=row.shown,
        limits=Limits(
            centre=float(row.back(centre)),
            lower=constant_line(float(row.back(centre - _WIDTH * row.sigma)), row.shown),
            upper=constant_line(float(row.back(centre + _WIDTH * row.sigma)), row.shown),
            sigma=row.sigma,
            sigma_from=row.sigma_from,
            degrees_of_freedom=moving_range_freedom(row.count),
        ),
        signals=find_signals((row.scaled - centre) / row.sigma, DEFAULT_PATTERNS),
        false_alarm=false_alarm(row.count, DEFAULT_PATTERNS),
        notes=(*notes, *fitness, *gaps),
    )


def _moving_range_chart(row: _Row, notes: tuple[str, ...]) -> Chart:
    pair = constants(2)
    centre, spread = pair.d2 * row.sigma, pair.d3 * row.sigma
    return Chart(
        kind="moving range",
        values=frozen(row.back(row.ranges)),
        limits=Limits(
            centre=float(row.back(centre)),
            lower=constant_line(float(row.back(pair.D3 * centre)), row.shown),
            upper=constant_line(float(row.back(pair.D4 * centre)), row.shown),
            sigma=spread,
            sigma_from="0.853 sigma of the values, " + row.sigma_from,
            degrees_of_freedom=moving_range_freedom(row.count),
        ),
        signals=find_signals((row.ranges - centre) / spread, ("beyond_limit",)),
        false_alarm=moving_range_false_alarm(row.count),
        notes=notes,
    )


def moving_range_freedom(n_values: int) -> float:
    r"""
    Degrees of freedom of sigma from the mean moving range of *n_values* independent values.

    The variance of :math:`\overline{MR}/d_2` is
    :math:`\sigma^2 (0.8264 n - 1.082) / (n - 1)^2` (Cryer and Ryan 1990); a sigma with *f* degrees
    of freedom has relative variance :math:`1 / (2 f)`.

    Examples
    --------
    >>> round(moving_range_freedom(100), 1)
    60.1
    """
    covariance = 4.0 / np.pi * (np.sqrt(0.75) + np.pi / 12.0 - 1.0)
    pair = constants(2)
    variance = (n_values - 1) * pair.d3**2 + 2 * (n_values - 2) * covariance
    relative = variance / (pair.d2 * (n_values - 1)) ** 2
    return float(1.0 / (2.0 * relative))
