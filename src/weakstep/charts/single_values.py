"""Centre and sigma of single values in time order: from which values, and by which statistic."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Literal

import numpy as np

from weakstep.charts.checks import real, whole_number
from weakstep.charts.factors import constants
from weakstep.errors import NotEnoughError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

# Median of |x - y| for two standard normal values: sqrt(2) times the 75 % point, 0.954.
MEDIAN_MOVING_RANGE = 2.0**0.5 * 0.6744897501960817
# Degrees of freedom, per moving range, of sigma from their median: 0.316, 0.311 and 0.302 in 20000
# simulated rows of 50, 100 and 400 normal values.
_MEDIAN_FREEDOM = 0.31
_LARGEST_LOG = 700.0  # of a number that a computer holds; limits further away stand there
SigmaBy = Literal["mean moving range", "median moving range", "standard deviation"]


@dataclass(frozen=True, eq=False)
class Row:
    """
    Single values in time order, and what limits are to be computed from.

    Attributes
    ----------
    shown : array, shape (n_runs,)
        In the unit; NaN where not logged.
    logged : array of bool, shape (n_runs,)
    on_log_scale : bool
    baseline : array of bool, shape (n_runs,)
        Runs that centre and sigma come from.
    """

    shown: NDArray[np.float64]
    logged: NDArray[np.bool_]
    on_log_scale: bool
    baseline: NDArray[np.bool_]

    @cached_property
    def scaled(self) -> NDArray[np.float64]:
        """Values on the scale of the limits."""
        return np.log(self.shown) if self.on_log_scale else self.shown

    @cached_property
    def ranges(self) -> NDArray[np.float64]:
        """Moving ranges on the scale of the limits, each at its later value; else NaN."""
        ranges = np.full(self.shown.shape, np.nan)
        ranges[np.flatnonzero(self.logged)[1:]] = np.abs(np.diff(self.scaled[self.logged]))
        return ranges

    @cached_property
    def known(self) -> NDArray[np.float64]:
        """Logged values of the baseline, on the scale of the limits."""
        return self.scaled[self.logged & self.baseline]

    @cached_property
    def known_ranges(self) -> NDArray[np.float64]:
        """Moving ranges between neighbours that both belong to the baseline."""
        places = np.flatnonzero(self.logged)
        inside = self.baseline[places]
        return self.ranges[places[1:][inside[1:] & inside[:-1]]]

    @property
    def count(self) -> int:
        """Logged values."""
        return int(self.logged.sum())

    def back(self, values: ArrayLike) -> NDArray[np.float64]:
        """From the scale of the limits to the unit (from a difference of logs to a ratio)."""
        given = np.asarray(values, dtype=float)
        return np.exp(np.minimum(given, _LARGEST_LOG)) if self.on_log_scale else given.copy()


@dataclass(frozen=True)
class Estimate:
    """
    Centre and sigma on the scale of the limits.

    Attributes
    ----------
    centre, sigma : float
    sigma_from : str
        A phrase.
    degrees_of_freedom : float
    """

    centre: float
    sigma: float
    sigma_from: str
    degrees_of_freedom: float


def estimate(row: Row, sigma_by: SigmaBy, centre: float | None, sigma: float | None) -> Estimate:
    """
    Estimate centre and sigma of the baseline, or take those that are known.

    Parameters
    ----------
    row : Row
    sigma_by : {"mean moving range", "median moving range", "standard deviation"}
    centre, sigma : float or None

    Returns
    -------
    Estimate

    Raises
    ------
    ValueError
        A known value is out of range.
    NotEnoughError
        Too few values, or no variation.
    """
    where = "" if row.baseline.all() else " of the baseline"
    unit = ", of logarithms" if row.on_log_scale else ""
    middle = _known_centre(row, centre)
    if sigma is not None:
        real("sigma", sigma, above=0.0)
        return Estimate(middle, float(sigma), "given" + unit, float("inf"))
    if len(row.known) < 2 or len(row.known_ranges) < 1:
        msg = (
            "A chart of single values needs at least 2 neighbouring values in its baseline; "
            f"{len(row.known)} logged."
        )
        raise NotEnoughError(msg)
    found, phrase, freedom = _sigma(row, sigma_by)
    if found == 0.0:
        msg = f"The {sigma_by}{where} is 0, so there is no variation to chart."
        raise NotEnoughError(msg)
    return Estimate(middle, found, phrase + where + unit, freedom)


def _known_centre(row: Row, centre: float | None) -> float:
    """Centre on the scale of the limits."""
    if centre is None and len(row.known) == 0:
        msg = "No value of the baseline is logged, so there is no centre line: give centre."
        raise NotEnoughError(msg)
    if centre is None:
        return float(row.known.mean())
    real("centre", centre)
    if row.on_log_scale and centre <= 0.0:
        msg = f"centre must be above 0 on a log scale, got {centre}"
        raise ValueError(msg)
    return float(np.log(centre)) if row.on_log_scale else float(centre)


def _sigma(row: Row, sigma_by: SigmaBy) -> tuple[float, str, float]:
    """Sigma, how it was found, and its degrees of freedom."""
    count = len(row.known_ranges) + 1
    if sigma_by == "mean moving range":
        sigma = float(row.known_ranges.mean()) / constants(2).d2
        return sigma, "mean moving range / 1.128", moving_range_freedom(count)
    if sigma_by == "median moving range":
        sigma = float(np.median(row.known_ranges)) / MEDIAN_MOVING_RANGE
        return sigma, "median moving range / 0.954", _MEDIAN_FREEDOM * (count - 1)
    if sigma_by == "standard deviation":
        sigma = float(row.known.std(ddof=1)) / constants(len(row.known)).c4
        return sigma, "standard deviation / c4", float(len(row.known) - 1)
    msg = (
        "sigma_by must be 'mean moving range', 'median moving range' or 'standard deviation', "
        f"got {sigma_by!r}"
    )
    raise ValueError(msg)


def moving_range_freedom(n_values: int) -> float:
    r"""
    Degrees of freedom of sigma from the mean moving range of *n_values* independent values.

    The variance of :math:`\overline{MR}/d_2` is
    :math:`\sigma^2 (0.8264 n - 1.082) / (n - 1)^2` (Cryer and Ryan 1990); a sigma with *f* degrees
    of freedom has relative variance :math:`1 / (2 f)`.

    Parameters
    ----------
    n_values : int
        At least 2.

    Returns
    -------
    float

    Raises
    ------
    ValueError
        *n_values* is no whole number of at least 2.

    References
    ----------
    J. D. Cryer and T. P. Ryan (1990), The estimation of sigma for an X chart, Journal of Quality
    Technology 22, 187-192.

    Examples
    --------
    >>> round(moving_range_freedom(100), 1)
    60.1
    """
    whole_number("n_values", n_values, 2)
    covariance = 4.0 / np.pi * (np.sqrt(0.75) + np.pi / 12.0 - 1.0)
    pair = constants(2)
    variance = (n_values - 1) * pair.d3**2 + 2 * (n_values - 2) * covariance
    relative = variance / (pair.d2 * (n_values - 1)) ** 2
    return float(1.0 / (2.0 * relative))
