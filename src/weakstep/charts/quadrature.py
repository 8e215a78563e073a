"""Gauss-Legendre nodes, computed once: finding them costs more than using them."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.frozen import frozen

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


@lru_cache(maxsize=128)
def gauss_legendre(count: int) -> tuple[Floats, Floats]:
    """
    Return nodes on (-1, 1) and their weights, read-only.

    Examples
    --------
    >>> nodes, weights = gauss_legendre(3)
    >>> nodes.round(4).tolist(), weights.round(4).tolist()
    ([-0.7746, 0.0, 0.7746], [0.5556, 0.8889, 0.5556])
    """
    nodes, weights = np.polynomial.legendre.leggauss(count)
    return frozen(nodes), frozen(weights)


def gauss_legendre_panels(
    low: float, high: float, panels: int, count: int
) -> tuple[Floats, Floats]:
    """
    Return the nodes of *panels* equal parts of a range, *count* in each, and their weights.

    Many nodes in one part would lie closest at its ends, where no closeness is needed.

    Examples
    --------
    >>> places, weights = gauss_legendre_panels(0.0, 2.0, 2, 5)
    >>> round(float(weights @ places**3), 12)
    4.0
    """
    nodes, weights = gauss_legendre(count)
    half = (high - low) / (2.0 * panels)
    middles = low + half * (2.0 * np.arange(panels) + 1.0)
    return (middles[:, None] + half * nodes).ravel(), np.tile(half * weights, panels)
