"""Chance that a chart of a stable process shows a signal all the same."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import real, whole_number
from weakstep.charts.factors import constants
from weakstep.charts.normal import normal_pdf
from weakstep.charts.pattern_shapes import Pattern
from weakstep.charts.patterns import DEFAULT_PATTERNS, patterns_of
from weakstep.charts.run_length_laws import survivals_of
from weakstep.charts.run_lengths import run_length_law, survival
from weakstep.charts.zone_chain import USUAL_WIDTH, cell_chances, lines_for

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence


_CELLS_PER_LIMIT = 120  # Simpson cells along one upper limit of the moving range
_ONE_BY_ONE = 1000  # points whose chances are followed one by one
_REACH = 8.0  # sigmas on each side that the moving-range integral covers


@lru_cache(maxsize=256)
def _cached(n_points: int, names: tuple[Pattern, ...], width: float) -> float:
    spread = USUAL_WIDTH / width
    if n_points > _ONE_BY_ONE:
        return 1.0 - run_length_law(names, spread=spread).survival(n_points)
    zones = cell_chances(lines_for(names), spread=spread) if names else None
    return float(1.0 - survival(n_points, names, zones)[-1])


def false_alarm(
    n_points: int,
    names: Sequence[str | Pattern] = DEFAULT_PATTERNS,
    *,
    n_charts: int = 1,
    width: float = USUAL_WIDTH,
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
    width : float, default 3
        Sigmas to the limits; all lines of the patterns move with it (see `pattern_width`).

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
    real("width", width, above=0.0)
    alone = _cached(count, tuple(patterns_of(names)), float(width)) if count > 0 else 0.0
    return float(1.0 - (1.0 - alone) ** n_charts)


def false_alarm_alone(n_points: int, name: str | Pattern) -> float:
    """
    Chance that one pattern by itself shows among *n_points* independent normal values.

    What a pattern costs in false alarms.

    Parameters
    ----------
    n_points : int
        Points on the chart.
    name : str or pattern
        Key of `weakstep.charts.patterns.PATTERNS`, or a pattern of one's own.

    Returns
    -------
    float
        Between 0 and 1.

    Raises
    ------
    ValueError
        The name is unknown, or *n_points* no whole number of at least 0.

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

    Raises
    ------
    ValueError
        *n_values* is no whole number of at least 0.

    References
    ----------
    S. V. Crowder (1987), Computation of ARL for combined individual measurement and moving range
    charts, Journal of Quality Technology 19, 98-102 (the last value as the state).

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

    def left() -> Iterator[float]:
        alive = density.copy()
        while True:
            alive = density * np.convolve(alive, simpson * width / 3.0, mode="same")
            yield float(width * alive.sum())

    return float(1.0 - survivals_of(left(), n_values - 1)[-1])
