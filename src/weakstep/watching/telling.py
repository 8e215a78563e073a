"""Which signals of a chart are told: a change once, then now and again that it lasts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

_QUIET = 10  # runs after which what comes is told as new
_AGAIN = 20  # runs after which a change that lasts is told again


@dataclass(frozen=True)
class Told:
    """
    A signal that is told.

    Attributes
    ----------
    began, at : int
        Place at which what is told began, and that of the signal.
    recent : int
        Place at which the signal's own change began; *began* but for a change that lasts.
    still : bool
        Whether it was told before and lasts.
    """

    began: int
    at: int
    recent: int
    still: bool


def told(signals: Iterable[tuple[int, int]], resets: Collection[int] = ()) -> list[Told]:
    """
    Choose the signals that are told.

    What passed its limit starts anew and passes it again while the change lasts. What begins
    within 10 places of the last signal is the same change: it is told again, as lasting, once 20
    places have gone by since it last was. After a reset everything is new.

    Parameters
    ----------
    signals : iterable of (began, at)
        Places of one chart and way, in time order.
    resets : collection of int
        Places before which the chart started anew.

    Returns
    -------
    list of Told

    Examples
    --------
    >>> [(one.at, one.still) for one in told([(0, 4), (5, 9), (12, 25), (60, 66)])]
    [(4, False), (25, True), (66, False)]
    >>> [(one.at, one.still) for one in told([(0, 4), (5, 9)], {5})]
    [(4, False), (9, False)]
    """
    found: list[Told] = []
    began, last = 0, -1
    for start, at in signals:
        anew = any(last < reset <= at for reset in resets)
        if not found or anew or start - last > _QUIET:
            began = start
            found.append(Told(start, at, start, still=False))
        elif at - found[-1].at >= _AGAIN:
            found.append(Told(began, at, start, still=True))
        last = at
    return found
