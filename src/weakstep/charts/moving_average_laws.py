r"""
Run lengths of moving-average charts of short spans: the last values themselves as the state.

A moving average of *w* values has no state of its own; what a chart remembers are the last
:math:`w - 1` values. The chance :math:`u_n` that none of the next *n* points signals follows from

.. math::
    u_n(x_1, \dots, x_{w-1}) =
    \int_{-L \sqrt w - t}^{L \sqrt w - t} u_{n-1}(x_2, \dots, x_{w-1}, y) \varphi(y - \delta) dy,
    \quad t = x_1 + \dots + x_{w-1},

lengths in sigmas, and is a smooth function: a polynomial in each value, held at Gauss-Legendre
nodes. The first :math:`w - 1` points, of fewer values and limits of their own, are integrals of the
same kind over ever fewer values.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.normal import normal_pdf
from weakstep.charts.quadrature import gauss_legendre

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_NODES = {2: 72, 3: 56, 4: 42, 5: 26}  # for each span: of one value, over its whole reach
LONGEST_SPAN = max(_NODES)
_REACH = 7.5  # sigmas on each side of its mean; a value beyond comes once in 1e13
_DEGREE = 150  # of the polynomial that stands for the density times a node's polynomial
_SAME_SUM = 12  # decimals in which sums of the same values agree


def short_span_survivals(span: int, width: float, shift: float) -> Iterator[float]:
    """
    Chances of no signal by points 1, 2, ... of a moving-average chart.

    Parameters
    ----------
    span : int
        From 2 to 5.
    width : float
        *L*, in standard deviations of the average.
    shift : float
        Of the mean from the start, in sigmas of a single value.

    Examples
    --------
    >>> chances = short_span_survivals(2, 3.0, 0.0)
    >>> [round(next(chances), 5) for _ in range(2)]
    [0.9973, 0.99508]
    """
    nodes = _NODES[span]
    starts = [_weights(count, width * math.sqrt(count), nodes, shift) for count in range(1, span)]
    going_on = _weights(span, width * math.sqrt(span), nodes, shift)
    for count in range(1, span):
        yield _from_the_start(np.ones((nodes,) * count), starts)
    alive = np.ones((nodes,) * (span - 1))
    while True:
        alive = np.einsum("x...y,...y->x...", going_on, alive)
        yield _from_the_start(alive, starts)


def _from_the_start(alive: Floats, starts: list[Floats]) -> float:
    """Chance from the start, by what it is after the first points: the latest integrated first."""
    while alive.ndim:
        alive = np.einsum("...y,...y->...", starts[alive.ndim - 1], alive)
    return float(alive)


def _weights(count: int, limit: float, nodes: int, shift: float) -> Floats:
    """
    Weights of the newest value's nodes in integrals over all that keep the sum within *limit*.

    Shape (n_nodes, ) * count: the values before, and the nodes of the newest.
    """
    places = shift + _REACH * gauss_legendre(nodes)[0]
    sums = np.zeros(1)
    for _ in range(count - 1):
        sums = (sums[:, None] + places).ravel()
    # The same values in another order have the same sum, so a few sums stand for all.
    known, place = np.unique(sums.round(_SAME_SUM), return_inverse=True)
    low, high = (np.clip((way * limit - known - shift) / _REACH, -1.0, 1.0) for way in (-1.0, 1.0))
    table = _integrals_to(high, nodes) - _integrals_to(low, nodes)
    return table[place].reshape((nodes,) * count)


def _integrals_to(ends: Floats, nodes: int) -> Floats:
    """Integrals from -1 of the density times each node's polynomial; shape (n_ends, n_nodes)."""
    basis = np.polynomial.legendre.legvander(ends, _DEGREE + 1)
    return np.asarray(basis @ _antiderivatives(nodes), dtype=float)


@lru_cache(maxsize=8)
def _antiderivatives(nodes: int) -> Floats:
    """Legendre coefficients of those integrals as functions of their end."""
    places, weights = gauss_legendre(_DEGREE + 1)
    own, own_weights = gauss_legendre(nodes)
    to_degree = np.polynomial.legendre.legvander(own, nodes - 1)
    degrees = np.arange(nodes)
    coefficients = ((2 * degrees + 1) / 2)[:, None] * (to_degree * own_weights[:, None]).T
    values = np.polynomial.legendre.legvander(places, nodes - 1) @ coefficients
    density = _REACH * normal_pdf(_REACH * places)
    degrees = np.arange(_DEGREE + 1)
    basis = np.polynomial.legendre.legvander(places, _DEGREE)
    series = ((2 * degrees + 1) / 2)[:, None] * (
        basis.T @ (weights[:, None] * density[:, None] * values)
    )
    return np.asarray(np.polynomial.legendre.legint(series, lbnd=-1, axis=0), dtype=float)
