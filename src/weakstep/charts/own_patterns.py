"""Patterns of one's own making, beside `beyond` and `between` of `pattern_shapes`."""

from __future__ import annotations

import numpy as np

from weakstep.charts.checks import real, whole_number
from weakstep.charts.pattern_shapes import (
    CountPattern,
    SequencePattern,
    Zone,
    falling,
    rising,
    turning,
)


def steady(window: int) -> SequencePattern:
    """
    Make a pattern of points in a row that steadily rise, or steadily fall.

    Parameters
    ----------
    window : int
        Points in a row, at least 3; the first counts, so six make five steps.

    Returns
    -------
    SequencePattern
        For `completions`, `find_signals` and the run lengths, wherever a name is taken.

    Raises
    ------
    ValueError
        *window* is below 3.

    Examples
    --------
    >>> steady(7).phrase
    '7 in a row steadily rising or falling'
    """
    count = whole_number("window", window, 3)
    phrase = f"{count} in a row steadily rising or falling"
    return SequencePattern(f"{count}_steady", phrase, count, (rising, falling), 0)


def alternating(window: int) -> SequencePattern:
    """
    Make a pattern of points in a row that go up and down in turn.

    Parameters
    ----------
    window : int
        Points in a row, at least 4.

    Returns
    -------
    SequencePattern

    Raises
    ------
    ValueError
        *window* is below 4.

    Examples
    --------
    >>> alternating(12).phrase
    '12 in a row up and down in turn'
    """
    count = whole_number("window", window, 4)
    phrase = f"{count} in a row up and down in turn"
    return SequencePattern(f"{count}_alternating", phrase, count, (turning,), 1)


def within(needed: int, window: int, limit: float) -> CountPattern:
    """
    Make a pattern of points close to the centre line, on whichever side.

    Parameters
    ----------
    needed, window : int
        At least *needed* of *window* points in a row.
    limit : float
        In sigmas from the centre line, above 0.

    Returns
    -------
    CountPattern

    Raises
    ------
    ValueError
        The numbers do not make a pattern.

    Examples
    --------
    >>> within(15, 15, 1.0).phrase
    '15 of 15 within 1 sigma'
    """
    zone = Zone(((-real("limit", limit, above=0.0), limit),))
    return _on_either_side(needed, window, limit, "within", zone)


def outside(needed: int, window: int, limit: float) -> CountPattern:
    """
    Make a pattern of points far from the centre line, sides not kept apart.

    Parameters
    ----------
    needed, window, limit
        As for `within`.

    Returns
    -------
    CountPattern

    Raises
    ------
    ValueError
        The numbers do not make a pattern.

    Examples
    --------
    >>> outside(8, 8, 1.0).phrase
    '8 of 8 beyond 1 sigma on either side'
    """
    zone = Zone(((-np.inf, -real("limit", limit, above=0.0)), (limit, np.inf)))
    return _on_either_side(needed, window, limit, "outside", zone)


def _on_either_side(needed: int, window: int, limit: float, name: str, zone: Zone) -> CountPattern:
    least, most = whole_number("needed", needed, 1), whole_number("window", window, 1)
    if least > most:
        msg = f"needed must be at most window, got {needed} of {window}"
        raise ValueError(msg)
    words = {
        "within": f"within {limit:g} sigma",
        "outside": f"beyond {limit:g} sigma on either side",
    }
    return CountPattern(
        f"{least}_of_{most}_{name}_{limit:g}",
        f"{least} of {most} {words[name]}",
        least,
        most,
        (zone,),
    )
