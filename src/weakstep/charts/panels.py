"""
Integrals of a smooth function against a density that is cut off, by nodes in panels.

A limit for single values cuts the density of the next state off at a place that moves with the
present one. Gauss-Legendre nodes over the whole range would lose their digits there; here each
integral ends at its own cut, and the function is interpolated between the nodes of each panel.
Run lengths have kinks where a cut meets an end of the range; panels end at them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.quadrature import gauss_legendre

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_PER_PANEL = 20  # nodes, at least
_PER_LENGTH = 6.0  # nodes in a length over which the density changes
_MOST_LENGTHS = 10.0  # in a panel; interpolation in longer ones takes more memory than there is


@lru_cache(maxsize=16)
def _rule(nodes: int) -> tuple[Floats, Floats, Floats]:
    """Nodes on (-1, 1), weights, and the matrix from values there to Legendre coefficients."""
    places, weights = gauss_legendre(nodes)
    degrees = np.arange(nodes)
    values = np.polynomial.legendre.legvander(places, nodes - 1)
    return places, weights, ((2 * degrees + 1) / 2)[:, None] * (values * weights[:, None]).T


@dataclass(frozen=True, eq=False)
class PanelGrid:
    """
    Nodes of a range, panel by panel.

    Attributes
    ----------
    breaks : array, shape (n_panels + 1,)
        Ends of the panels, rising.
    sizes : tuple of int
        Nodes in each panel.
    """

    breaks: Floats
    sizes: tuple[int, ...]

    @classmethod
    def over(cls, low: float, high: float, kinks: list[float], length: float) -> PanelGrid:
        """Build panels from *low* to *high*, cut at *kinks* too, for densities of one *length*."""
        inside = sorted(kink for kink in kinks if low < kink < high)
        breaks = [low]
        for place in (*inside, high):
            if place - breaks[-1] > 1e-3 * (high - low):
                breaks.append(place)
        breaks[-1] = high
        parts = np.ceil(np.diff(breaks) / (_MOST_LENGTHS * length)).astype(int)
        ends = np.append(
            np.concatenate(
                [
                    np.linspace(left, right, count, endpoint=False)
                    for left, right, count in zip(breaks[:-1], breaks[1:], parts, strict=True)
                ]
            ),
            high,
        )
        sizes = _PER_PANEL + np.ceil(_PER_LENGTH * np.diff(ends) / length).astype(int)
        return cls(ends, tuple(sizes.tolist()))

    @property
    def places(self) -> Floats:
        """Nodes, panel by panel; shape (n_nodes,)."""
        middles, halves = (self.breaks[1:] + self.breaks[:-1]) / 2.0, np.diff(self.breaks) / 2.0
        parts = [
            middle + half * _rule(size)[0]
            for middle, half, size in zip(middles, halves, self.sizes, strict=True)
        ]
        return np.concatenate(parts)

    def integrals(self, low: Floats, high: Floats, density: Callable[[Floats], Floats]) -> Floats:
        """
        Weights of the values at the nodes in integrals from *low* to *high*, one integral a row.

        Parameters
        ----------
        low, high : array, shape (n_integrals,)
            Cut at the ends of the range.
        density : callable
            From places of shape (n_integrals, n) to densities of the same shape.

        Returns
        -------
        array, shape (n_integrals, n_nodes)
        """
        parts = []
        for left, right, size in zip(self.breaks[:-1], self.breaks[1:], self.sizes, strict=True):
            nodes, weights, to_coefficients = _rule(size)
            start, end = np.clip(low, left, right), np.clip(high, left, right)
            half = np.maximum(end - start, 0.0)[:, None] / 2.0
            places = start[:, None] + half * (nodes + 1.0)
            mass = density(places) * weights * half
            cut = ((start > left) | (end < right)) & (half[:, 0] > 0.0)
            if cut.any():
                local = 2.0 * (places[cut] - left) / (right - left) - 1.0
                basis = np.polynomial.legendre.legvander(local, size - 1)
                mass[cut] = np.einsum("mq,mqd->md", mass[cut], basis) @ to_coefficients
            parts.append(mass)
        return np.hstack(parts)
