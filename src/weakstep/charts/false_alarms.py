"""Chance that a chart of a stable process shows a signal all the same."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import chance, numbers, real, whole_counts, whole_number
from weakstep.charts.factors import constants
from weakstep.charts.normal import normal_pdf
from weakstep.charts.pattern_shapes import Pattern
from weakstep.charts.patterns import DEFAULT_PATTERNS, patterns_of
from weakstep.charts.run_lengths import survival

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

_CELLS_PER_LIMIT = 120  # Simpson cells along one upper limit of the moving range
_REACH = 8.0  # sigmas on each side that the moving-range integral covers


@lru_cache(maxsize=256)
def _cached(n_points: int, names: tuple[Pattern, ...]) -> float:
    return float(1.0 - survival(n_points, names)[-1])


def false_alarm(
    n_points: int, names: Sequence[str | Pattern] = DEFAULT_PATTERNS, *, n_charts: int = 1
) -> float:
    """
    Chance of at least one signal among *n_points* independent normal values, limits known.

    An exact Markov chain (see `weakstep.charts.run_lengths`). Limits that are estimated from the
    same points move the chance a little, and values that follow each other raise it.

    Parameters
    ----------
    n_points : int
        Points on the chart; missing points do not count.
    names : sequence of str or pattern
        Patterns in use, of any kind.
    n_charts : int, default 1
        Charts of as many points each; the chance is that of a signal on any, charts taken as
        independent (charts that move together only lower it).

    Returns
    -------
    float
        Between 0 and 1. The width of limits that gives a stated chance: `pattern_width`.

    Raises
    ------
    ValueError
        A name is unknown, or a number is not whole or too small.

    Examples
    --------
    >>> round(false_alarm(150, ["beyond_limit"]), 4), round(false_alarm(150), 4)
    (0.3334, 0.4981)
    >>> round(false_alarm(150, ["beyond_limit"], n_charts=3), 4)
    0.7037
    """
    count = whole_number("n_points", n_points, 0)
    whole_number("n_charts", n_charts, 1)
    alone = _cached(count, tuple(patterns_of(names))) if count > 0 else 0.0
    return float(1.0 - (1.0 - alone) ** n_charts)


def false_alarm_alone(n_points: int, name: str | Pattern) -> float:
    """
    Chance that one pattern by itself shows among *n_points* independent normal values.

    What a pattern costs in false alarms.

    Parameters
    ----------
    n_points : int
        Points on the chart.
    name : str
        Key of `weakstep.charts.patterns.PATTERNS`.

    Examples
    --------
    >>> [round(false_alarm_alone(150, name), 3) for name in ("beyond_limit", "six_steady")]
    [0.333, 0.294]
    """
    return false_alarm(n_points, (name,))


def moving_range_false_alarm(n_values: int) -> float:
    r"""
    Chance that one of the *n_values* - 1 moving ranges passes its upper limit D4 MRbar.

    Moving ranges share values, so the last value is the state: with *L* the limit in sigmas,
    :math:`f_{k+1}(y) = \varphi(y) \int_{y-L}^{y+L} f_k(x)\,dx`, by Simpson's rule.

    Parameters
    ----------
    n_values : int
        Independent normal values in a row.

    Returns
    -------
    float
        Between 0 and 1.

    Examples
    --------
    >>> from weakstep.charts.normal import normal_cdf
    >>> two = 2 * (1 - normal_cdf(3.6858863639 / 2**0.5))
    >>> round(moving_range_false_alarm(2), 5), round(float(two), 5)
    (0.00915, 0.00915)
    """
    return _moving_range_alarm(whole_number("n_values", n_values, 0))


@lru_cache(maxsize=256)
def _moving_range_alarm(n_values: int) -> float:
    """Chance of a moving range beyond its limit."""
    if n_values < 2:
        return 0.0
    limit = constants(2).D2
    width = limit / _CELLS_PER_LIMIT
    half = int(np.ceil((_REACH + limit) / width))
    place = width * np.arange(-half, half + 1)
    density = normal_pdf(place)
    simpson = np.where(np.arange(2 * _CELLS_PER_LIMIT + 1) % 2, 4.0, 2.0)
    simpson[[0, -1]] = 1.0
    alive = density.copy()
    for _ in range(n_values - 1):
        alive = density * np.convolve(alive, simpson * width / 3.0, mode="same")
    return float(1.0 - width * alive.sum())


def binomial_zones(
    tested: NDArray[np.int64], share: float, now: float | None = None
) -> NDArray[np.float64]:
    """
    Chance of each zone of a p or np chart for a binomial process, point by point.

    Parameters
    ----------
    tested : array of int, shape (n_points,)
        Items in each point, at least 1.
    share : float
        Share of failures that the lines of the chart come from, strictly between 0 and 1.
    now : float, optional
        True share of failures; default *share*, a stable process.

    Returns
    -------
    array, shape (n_points, 9)
        As `weakstep.charts.run_lengths.zone_probabilities`.
    """
    from scipy.special import bdtr

    chance("share", share)
    if now is not None:
        real("now", now, least=0.0, most=1.0)
    counted = whole_counts("tested", tested)
    if not (counted >= 1.0).all():
        msg = "tested must be at least 1 in every point"
        raise ValueError(msg)
    tested = counted.astype(np.int64)
    size = tested[:, None].astype(float)
    spread = np.sqrt(size * share * (1.0 - share))
    mean = size * share
    below = mean - spread * np.array([3.0, 2.0, 1.0, 0.0])
    above = mean + spread * np.array([0.0, 1.0, 2.0, 3.0])
    # Zones below the centre stop before their line, zones above it include theirs.
    at_most = np.hstack([np.ceil(below - 1e-9) - 1.0, np.floor(above + 1e-9)])
    true = share if now is None else now
    known = bdtr(np.clip(at_most, 0.0, size), tested[:, None], true)
    return np.diff(np.where(at_most < 0.0, 0.0, known), prepend=0.0, append=1.0, axis=1)


def poisson_zones(
    mean: NDArray[np.float64], now: NDArray[np.float64] | None = None
) -> NDArray[np.float64]:
    """
    Chance of each zone of a c or u chart for a Poisson process, point by point.

    Parameters
    ----------
    mean : array, shape (n_points,)
        Count of each point that the lines of the chart come from, above 0.
    now : array, shape (n_points,), optional
        True expected count; default *mean*, a stable process.

    Returns
    -------
    array, shape (n_points, 9)
        As `weakstep.charts.run_lengths.zone_probabilities`.
    """
    from scipy.special import pdtr

    centre = _means("mean", mean)[:, None]
    true = centre if now is None else _means("now", now)[:, None]
    if true.shape != centre.shape:
        msg = f"now must have a mean for each of {len(centre)} points, got {len(true)}"
        raise ValueError(msg)
    below = centre - np.sqrt(centre) * np.array([3.0, 2.0, 1.0, 0.0])
    above = centre + np.sqrt(centre) * np.array([0.0, 1.0, 2.0, 3.0])
    at_most = np.hstack([np.ceil(below - 1e-9) - 1.0, np.floor(above + 1e-9)])
    known = pdtr(np.maximum(at_most, 0.0), true)
    return np.diff(np.where(at_most < 0.0, 0.0, known), prepend=0.0, append=1.0, axis=1)


def _means(name: str, values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return expected counts as one row; raise when they cannot be that."""
    row = numbers(name, values)
    if row.ndim != 1 or not (np.isfinite(row) & (row > 0.0)).all():
        msg = f"{name} must be one row of finite counts above 0, got shape {row.shape}"
        raise ValueError(msg)
    return row
