"""
Patterns on a control chart: shapes that a stable process seldom makes.

Every pattern is a pure function of *z*, the distance of each point from the centre line in
sigmas. The patterns come from two sources that differ in one number (eight or nine in a row on one
side): Western Electric Company (1956), Statistical Quality Control Handbook, and L. S. Nelson
(1984), The Shewhart control chart: tests for special causes, Journal of Quality Technology 16,
237-239.

Missing points are passed over: "in a row" counts logged points, and a signal names the logged
points only. A gap therefore neither breaks nor completes a pattern, and the chance of a false
signal is that of a log with as many points as were logged.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import numbers
from weakstep.charts.model import Signal
from weakstep.charts.pattern_shapes import (
    OUTSIDE_ONE,
    WITHIN_ONE,
    CountPattern,
    Pattern,
    SequencePattern,
    both_sides,
    falling,
    rising,
    turning,
)

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Bools = NDArray[np.bool_]

PATTERNS: Mapping[str, Pattern] = MappingProxyType(
    {
        pattern.name: pattern
        for pattern in (
            CountPattern("beyond_limit", "beyond a limit", 1, 1, both_sides(3.0)),
            CountPattern("nine_one_side", "nine in a row on one side", 9, 9, both_sides(0.0)),
            CountPattern("eight_one_side", "eight in a row on one side", 8, 8, both_sides(0.0)),
            SequencePattern(
                "six_steady", "six in a row steadily rising or falling", 6, (rising, falling), 0
            ),
            SequencePattern(
                "fourteen_alternating", "fourteen in a row up and down in turn", 14, (turning,), 1
            ),
            CountPattern(
                "two_of_three", "two of three beyond 2 sigma on one side", 2, 3, both_sides(2.0)
            ),
            CountPattern(
                "four_of_five", "four of five beyond 1 sigma on one side", 4, 5, both_sides(1.0)
            ),
            CountPattern("fifteen_close", "fifteen in a row within 1 sigma", 15, 15, (WITHIN_ONE,)),
            CountPattern("eight_far", "eight in a row beyond 1 sigma", 8, 8, (OUTSIDE_ONE,)),
        )
    }
)

DEFAULT_PATTERNS = ("beyond_limit", "nine_one_side")
WESTERN_ELECTRIC = ("beyond_limit", "two_of_three", "four_of_five", "eight_one_side")
NELSON = (
    "beyond_limit",
    "nine_one_side",
    "six_steady",
    "fourteen_alternating",
    "two_of_three",
    "four_of_five",
    "fifteen_close",
    "eight_far",
)


def pattern(name: str | Pattern) -> Pattern:
    """
    Return the pattern called *name*; a pattern itself is returned as it is.

    Raises
    ------
    ValueError
        No pattern has that name; the message lists those there are.

    Examples
    --------
    >>> pattern("two_of_three").phrase
    'two of three beyond 2 sigma on one side'
    """
    if isinstance(name, CountPattern | SequencePattern):
        return name
    if not isinstance(name, str) or name not in PATTERNS:
        msg = f"no pattern is called {name!r}; there are: {', '.join(PATTERNS)}"
        raise ValueError(msg)
    return PATTERNS[name]


def patterns_of(names: Iterable[str | Pattern]) -> list[Pattern]:
    """
    Return the patterns called *names*; a single name stands for itself.

    Raises
    ------
    ValueError
        *names* are no names, or one is unknown.

    Examples
    --------
    >>> [one.window for one in patterns_of(["beyond_limit", "six_steady"])]
    [1, 6]
    """
    if isinstance(names, str | CountPattern | SequencePattern):
        return [pattern(names)]
    if not isinstance(names, Iterable):
        msg = f"names must be a list of patterns, got {names!r}"
        raise ValueError(msg)
    return [pattern(name) for name in names]


def completions(
    z: ArrayLike, names: Iterable[str | Pattern] = DEFAULT_PATTERNS
) -> dict[str, Bools]:
    """
    Where each pattern is complete, for one chart or for many at once.

    Parameters
    ----------
    z : array_like, shape (..., n_points)
        Distance from the centre line in sigmas; no NaN (see `find_signals` for gaps).
    names : iterable of str or pattern
        Keys of `PATTERNS`, or patterns of one's own (`weakstep.charts.pattern_shapes.beyond`).

    Returns
    -------
    dict of str to array of bool, shape (..., n_points)

    Raises
    ------
    ValueError
        A value is NaN, or a name is unknown.

    Examples
    --------
    >>> completions([0.5, 3.1, -0.2], ["beyond_limit"])["beyond_limit"].tolist()
    [False, True, False]
    """
    values = numbers("z", z)
    if values.ndim == 0:
        msg = "z must be a row of points, or a table with one chart a row, got a single number"
        raise ValueError(msg)
    if np.isnan(values).any():
        msg = "z holds missing points (NaN); find_signals passes them over, completions does not"
        raise ValueError(msg)
    return {shape.name: shape.completions(values) for shape in patterns_of(names)}


def find_signals(
    z: ArrayLike, names: Iterable[str | Pattern] = DEFAULT_PATTERNS
) -> tuple[Signal, ...]:
    """
    Every signal on one chart, in order of the point that completes it.

    A pattern that stays complete from point to point is one signal that holds all its points;
    points beyond a limit are a signal each.

    Parameters
    ----------
    z : array_like, shape (n_points,)
        Distance from the centre line in sigmas; NaN where a point is missing (passed over).
    names : iterable of str or pattern
        Keys of `PATTERNS`, or patterns of one's own (`weakstep.charts.pattern_shapes.beyond`).

    Returns
    -------
    tuple of Signal

    Raises
    ------
    ValueError
        A name is unknown.

    Examples
    --------
    >>> find_signals([0.5, 3.1, float("nan"), -0.2], ["beyond_limit"])
    (Signal(pattern='beyond_limit', phrase='beyond a limit', points=(1,), complete_at=1),)
    """
    values = numbers("z", z)
    if values.ndim != 1:
        msg = f"z must be one row of points, got shape {values.shape}"
        raise ValueError(msg)
    logged = np.flatnonzero(~np.isnan(values))
    signals = [
        signal
        for shape in patterns_of(names)
        for complete, part in shape.members(values[logged])
        for signal in _episodes(shape, complete, part, logged)
    ]
    return tuple(sorted(signals, key=lambda signal: (signal.at, signal.pattern)))


def _episodes(
    shape: Pattern, complete: Bools, part: Bools, logged: NDArray[np.intp]
) -> Iterable[Signal]:
    """One signal per unbroken row of points at which the pattern is complete."""
    at = np.flatnonzero(complete)
    if len(at) == 0:
        return
    breaks = np.flatnonzero(np.diff(at) > 1) + 1 if shape.window > 1 else np.arange(1, len(at))
    for episode in np.split(at, breaks):
        first = max(0, int(episode[0]) - shape.window + 1)
        span = np.arange(first, int(episode[-1]) + 1)
        points = tuple(int(point) for point in logged[span[part[span]]])
        yield Signal(shape.name, shape.phrase, points, complete_at=int(logged[episode[0]]))
