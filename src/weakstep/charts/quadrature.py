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
