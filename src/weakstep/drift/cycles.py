"""Counters: values that only grow until a service sets them back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_ONE_SIGN = 0.85  # share of the steps that go one way in a counter
_LEAST_STEPS = 20  # non-zero steps before an undeclared counter is recognised
_LEAST_SERVICES = 2
# A service sets the counter back by at least this many usual steps and this share of its range;
# smaller steps back are slips of reading.
_DROP_IN_STEPS = 3.0
_DROP_IN_RANGE = 0.25


@dataclass(frozen=True)
class Cycle:
    """
    The service rhythm of a counter.

    Attributes
    ----------
    services : tuple of int
        Place of the first value after each service, among the values given.
    lengths : tuple of int
        Values between one service and the next, for complete cycles.
    reached : float
        Median value at which it was serviced; the first value when there was no service.
    now : float
        Last value.
    """

    services: tuple[int, ...]
    lengths: tuple[int, ...]
    reached: float
    now: float


def declared_cycle(values: Floats) -> Cycle | None:
    """
    Find the service rhythm of a column that the description declares a counter.

    A service is a step back by at least three usual steps and a quarter of the range.

    Parameters
    ----------
    values : array, shape (n_values,)
        Logged values in time order.

    Returns
    -------
    Cycle or None
        None when fewer than 85 % of the non-zero steps go one way: the column then counts several
        pieces of equipment or is no counter, and nothing can be said of its rhythm.

    Examples
    --------
    >>> declared_cycle(np.array([1.0, 2, 3, 4, 5, 6, 7, 0, 1, 2])).services
    (7,)
    """
    steps = np.diff(values)
    moving = steps[steps != 0.0]
    if len(moving) == 0:
        return None
    rising = float((moving > 0.0).mean())
    if max(rising, 1.0 - rising) < _ONE_SIGN:
        return None
    back = -steps if rising >= 0.5 else steps
    usual, reach = float(np.median(np.abs(moving))), float(np.ptp(values))
    services = np.flatnonzero(back >= max(_DROP_IN_STEPS * usual, _DROP_IN_RANGE * reach)) + 1
    return Cycle(
        services=tuple(int(place) for place in services),
        lengths=tuple(int(length) for length in np.diff(services)),
        reached=float(np.median(values[services - 1])) if len(services) else float(values[0]),
        now=float(values[-1]),
    )


def undeclared_cycle(values: Floats) -> Cycle | None:
    """
    Find the service rhythm of a column that behaves like a counter without being declared one.

    It needs at least 20 non-zero steps of which 85 % go one way, and at least two steps back, all
    of them long enough for a service. A steady rise without services stays a drift.

    Parameters
    ----------
    values : array, shape (n_values,)
        Logged values in time order.

    Returns
    -------
    Cycle or None

    Examples
    --------
    >>> undeclared_cycle(np.tile(np.arange(8.0), 4)).lengths
    (8, 8)
    >>> undeclared_cycle(np.arange(40.0)) is None
    True
    """
    moving = np.diff(values)
    moving = moving[moving != 0.0]
    cycle = declared_cycle(values)
    if cycle is None or len(moving) < _LEAST_STEPS or len(cycle.services) < _LEAST_SERVICES:
        return None
    back = np.minimum((moving > 0.0).sum(), (moving < 0.0).sum())
    return cycle if len(cycle.services) == back else None
