r"""
Chance of steady and alternating rows of points, exactly, for any continuous distribution.

Only the order of the values matters, so they may be taken as uniform on (0, 1). With :math:`f_j(x)`
the density of the last value while a row of length *j* ends there, one more value gives
:math:`f_{j+1}(y) = \int_0^y f_j(x) dx` for a step up and the integral from *y* to 1 for one down:
polynomials of a low degree, for which Gauss-Legendre nodes are exact.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.pattern_shapes import SequencePattern
from weakstep.charts.patterns import pattern

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_NODES = 48  # densities are smooth: twelve digits at 300 points


@lru_cache(maxsize=4)
def _integrals(nodes: int) -> tuple[Floats, Floats, Floats]:
    """Weights, and matrices that integrate from 0 to each node and from it to 1."""
    places, weights = np.polynomial.legendre.leggauss(nodes)
    # Values at the nodes -> Legendre coefficients -> integral -> values at the nodes.
    degrees = np.arange(nodes)
    basis = np.polynomial.legendre.legvander(places, nodes)
    to_coefficients = ((2 * degrees + 1) / 2)[:, None] * (basis[:, :nodes] * weights[:, None]).T
    integral = np.zeros((nodes + 1, nodes))
    integral[1, 0], integral[0, 0] = 1.0, 1.0
    for degree in range(1, nodes):
        integral[degree + 1, degree] = 1.0 / (2 * degree + 1)
        integral[degree - 1, degree] = -1.0 / (2 * degree + 1)
    up = basis @ integral @ to_coefficients / 2.0
    whole = np.broadcast_to(weights / 2.0, up.shape)
    return weights / 2.0, up, whole - up


def sequence_survival(n_points: int, name: str) -> Floats:
    """
    Chance that a pattern of steps has not been complete by each point of a stable process.

    Parameters
    ----------
    n_points : int
        Independent values of one continuous distribution.
    name : str
        Key of a pattern of steps: "six_steady" or "fourteen_alternating".

    Returns
    -------
    array, shape (n_points,)

    Raises
    ------
    ValueError
        The pattern counts points in zones (see `weakstep.charts.run_lengths`).

    Examples
    --------
    >>> round(float(1 - sequence_survival(6, "six_steady")[-1]), 7)
    0.0027778
    """
    shape = pattern(name)
    if not isinstance(shape, SequencePattern):
        msg = f"the pattern {name!r} counts points in zones; run_lengths.survival has its chance"
        raise ValueError(msg)
    weights, up, down = _integrals(_NODES)
    rows = shape.window - 1  # steps that complete the pattern
    steady = shape.free == 0
    # rising[j], falling[j]: density of the last value with j steps of the pattern behind it, the
    # last of them up or down; no step behind it at the first point.
    rising, falling = np.zeros((2, rows, _NODES))
    left = np.ones(n_points)
    for point in range(1, n_points):
        if point == 1:
            rising[1], falling[1] = up @ np.ones(_NODES), down @ np.ones(_NODES)
        else:
            # A steady row goes on in its direction and begins anew against it; a row of turns
            # the other way round.
            goes_on, anew = (rising, falling) if steady else (falling, rising)
            higher, lower = np.zeros_like(rising), np.zeros_like(falling)
            higher[2:], lower[2:] = goes_on[1:-1] @ up.T, anew[1:-1] @ down.T
            higher[1], lower[1] = up @ anew.sum(axis=0), down @ goes_on.sum(axis=0)
            rising, falling = higher, lower
        left[point] = float((rising + falling).sum(axis=0) @ weights)
    return left


def sequence_run_length(name: str) -> float:
    """
    Average number of points until a pattern of steps is first complete in a stable process.

    Sums the chance of no pattern over points; the tail is geometric.

    Parameters
    ----------
    name : str
        "six_steady" or "fourteen_alternating".

    Examples
    --------
    >>> round(sequence_run_length("six_steady"), 1)
    421.6
    """
    left = sequence_survival(200, name)
    ratio = left[-1] / left[-2]
    return float(1.0 + left.sum() + left[-1] * ratio / (1.0 - ratio))
