"""
The two kinds of pattern: points counted in a zone, and steps that follow a rule.

Both look at *z*, the distance of each point from the centre line in sigmas.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import real, whole_number

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

# A point on a limit is not beyond it; rounding of the computer must not decide.
_ROUNDING = 1e-9


@dataclass(frozen=True)
class Zone:
    """
    Part of the chart between lines; a point on a line is in no zone that ends there.

    Attributes
    ----------
    intervals : tuple of pairs of float
        Lower and upper line of each interval, in sigmas from the centre line; may be infinite.
    """

    intervals: tuple[tuple[float, float], ...]

    def __call__(self, z: Floats) -> Bools:
        """Whether points lie in the zone; same shape as *z*."""
        found: Bools | None = None
        for low, high in self.intervals:
            inside = z < high - _ROUNDING if low == -np.inf else z > low + _ROUNDING
            if low != -np.inf and high != np.inf:
                inside &= z < high - _ROUNDING
            found = inside if found is None else found | inside
        return np.zeros(z.shape, dtype=bool) if found is None else found

    @property
    def lines(self) -> tuple[float, ...]:
        """Finite ends of the intervals."""
        return tuple(line for pair in self.intervals for line in pair if np.isfinite(line))


@dataclass(frozen=True)
class CountPattern:
    """
    At least *needed* of *window* points in a row lie in one zone of the chart.

    Attributes
    ----------
    name, phrase : str
        A word for programs and the plain phrase for people.
    needed, window : int
        The newest point must lie in the zone itself.
    zones : tuple of Zone
        One per side where the pattern counts each side of the centre line apart.
    """

    name: str
    phrase: str
    needed: int
    window: int
    zones: tuple[Zone, ...]

    def completions(self, z: Floats) -> Bools:
        """Whether the pattern is complete at each point; shape (..., n_points), no NaN."""
        found = np.zeros(z.shape, dtype=bool)
        for zone in self.zones:
            found |= self.completions_in(zone(z))
        return found

    def completions_in(self, inside: Bools) -> Bools:
        """Whether it is complete at each point in one zone; *inside* has shape (..., n_points)."""
        if self.window == 1:
            return inside
        count = np.cumsum(inside, axis=-1, dtype=np.int32)
        count[..., self.window :] = count[..., self.window :] - count[..., : -self.window].copy()
        return inside & (count >= self.needed)

    def members(self, z: Floats) -> list[tuple[Bools, Bools]]:
        """Points complete, and points that may form part, for each zone; shape (n_points,)."""
        return [(self.completions_in(zone(z)), zone(z)) for zone in self.zones]


@dataclass(frozen=True)
class SequencePattern:
    """
    A row of points whose steps up and down follow a rule.

    Attributes
    ----------
    name, phrase : str
    window : int
        Points in a row.
    steps_fit : tuple of functions
        Each tells from the signs of the steps (shape (..., n_points - 1)) which steps go on with
        the row; one function per direction.
    free : int
        Steps at the start of a row that always fit.
    """

    name: str
    phrase: str
    window: int
    steps_fit: tuple[Callable[[Floats], Bools], ...]
    free: int

    def completions(self, z: Floats) -> Bools:
        """Whether the pattern is complete at each point; shape (..., n_points), no NaN."""
        found = np.zeros(z.shape, dtype=bool)
        if z.shape[-1] >= self.window:
            signs = np.sign(np.diff(z, axis=-1))
            for fits in self.steps_fit:
                found[..., 1 + self.free :] |= _length(fits(signs)) >= self.window - 1 - self.free
        return found

    def members(self, z: Floats) -> list[tuple[Bools, Bools]]:
        """Points complete, and points that may form part (all of them); shape (n_points,)."""
        return [(self.completions(z), np.ones(z.shape, dtype=bool))]


Pattern = CountPattern | SequencePattern


def _length(inside: Bools) -> NDArray[np.intp]:
    """Length of the unbroken row of True that ends at each place; shape (..., n)."""
    place = np.arange(1, inside.shape[-1] + 1)
    last_break: NDArray[np.intp] = np.maximum.accumulate(np.where(inside, 0, place), axis=-1)
    return place - last_break


def above(limit: float) -> Zone:
    """Zone of points more than *limit* sigmas above the centre line."""
    return Zone(((limit, np.inf),))


def below(limit: float) -> Zone:
    """Zone of points more than *limit* sigmas below the centre line."""
    return Zone(((-np.inf, -limit),))


def both_sides(limit: float) -> tuple[Zone, Zone]:
    """Zones beyond *limit* sigmas, one for each side."""
    return (above(limit), below(limit))


WITHIN_ONE = Zone(((-1.0, 1.0),))
OUTSIDE_ONE = Zone(((-np.inf, -1.0), (1.0, np.inf)))


def beyond(needed: int, window: int, limit: float, *, sides: int = 2) -> CountPattern:
    """
    Make a pattern of one's own: at least *needed* of *window* points beyond *limit* on one side.

    Parameters
    ----------
    needed, window : int
        1 of 1 are the limits of the chart themselves.
    limit : float
        In sigmas from the centre line; may be 0.
    sides : {2, 1}
        1: only above the centre line.

    Returns
    -------
    CountPattern
        For `completions`, `find_signals` and the run lengths, wherever a name is taken.

    Raises
    ------
    ValueError
        The numbers do not make a pattern.

    Examples
    --------
    >>> beyond(2, 3, 1.96).phrase
    '2 of 3 beyond 1.96 sigma on one side'
    """
    needed, window = whole_number("needed", needed, 1), whole_number("window", window, 1)
    real("limit", limit)
    if not (needed <= window and limit >= 0.0 and sides in (1, 2)):
        msg = (
            "a pattern needs 1 <= needed <= window, a limit of at least 0 and 1 or 2 sides, got "
            f"{needed} of {window} beyond {limit}, {sides} sides"
        )
        raise ValueError(msg)
    where = "on one side" if sides == 2 else "above"
    name = f"{needed}_of_{window}_beyond_{limit:g}" + ("" if sides == 2 else "_above")
    phrase = f"{needed} of {window} beyond {limit:g} sigma {where}"
    return CountPattern(name, phrase, needed, window, both_sides(limit)[:sides])


def between(needed: int, window: int, low: float, high: float) -> CountPattern:
    """
    Make a pattern of points between two lines, each side of the centre line apart.

    Parameters
    ----------
    needed, window : int
    low, high : float
        Lines in sigmas above the centre line; the zone below is its mirror image.

    Returns
    -------
    CountPattern

    Raises
    ------
    ValueError
        The numbers do not make a pattern.

    Examples
    --------
    >>> between(2, 3, 2.0, 3.0).phrase
    '2 of 3 between 2 and 3 sigma on one side'
    """
    needed, window = whole_number("needed", needed, 1), whole_number("window", window, 1)
    real("low", low)
    real("high", high)
    if not (needed <= window and low < high):
        msg = (
            "a pattern needs 1 <= needed <= window and low below high, got "
            f"{needed} of {window} between {low} and {high}"
        )
        raise ValueError(msg)
    zones = (Zone(((low, high),)), Zone(((-high, -low),)))
    phrase = f"{needed} of {window} between {low:g} and {high:g} sigma on one side"
    name = f"{needed}_of_{window}_between_{low:g}_{high:g}"
    return CountPattern(name, phrase, needed, window, zones)


def rising(signs: Floats) -> Bools:
    """Whether steps go up."""
    return signs > 0


def falling(signs: Floats) -> Bools:
    """Whether steps go down."""
    return signs < 0


def turning(signs: Floats) -> Bools:
    """Whether a step goes the other way than the one before."""
    return signs[..., 1:] * signs[..., :-1] < 0
