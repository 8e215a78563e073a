"""
The two kinds of pattern: points counted in a zone, and steps that follow a rule.

Both look at *z*, the distance of each point from the centre line in sigmas.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

# A point on a limit is not beyond it; rounding of the computer must not decide.
_ROUNDING = 1e-9


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
    zones : tuple of functions
        Each tells from z whether a point lies in the zone; a zone per side where the pattern
        counts each side of the centre line apart.
    """

    name: str
    phrase: str
    needed: int
    window: int
    zones: tuple[Callable[[Floats], Bools], ...]

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


def above(limit: float) -> Callable[[Floats], Bools]:
    """Zone of points more than *limit* sigmas above the centre line."""
    return lambda z: z > limit + _ROUNDING


def below(limit: float) -> Callable[[Floats], Bools]:
    """Zone of points more than *limit* sigmas below the centre line."""
    return lambda z: z < -limit - _ROUNDING


def both_sides(limit: float) -> tuple[Callable[[Floats], Bools], ...]:
    """Zones beyond *limit* sigmas, one for each side."""
    return (above(limit), below(limit))


def within_one(z: Floats) -> Bools:
    """Whether points lie within 1 sigma of the centre line."""
    return np.abs(z) < 1.0 - _ROUNDING


def outside_one(z: Floats) -> Bools:
    """Whether points lie beyond 1 sigma on either side."""
    return np.abs(z) > 1.0 + _ROUNDING


def rising(signs: Floats) -> Bools:
    """Whether steps go up."""
    return signs > 0


def falling(signs: Floats) -> Bools:
    """Whether steps go down."""
    return signs < 0


def turning(signs: Floats) -> Bools:
    """Whether a step goes the other way than the one before."""
    return signs[..., 1:] * signs[..., :-1] < 0
