r"""
The length of an exponentially weighted mean of several variables: a noncentral chi variable.

Its density has a modified Bessel function of the order :math:`p/2 - 1`. Of many variables both it
and the power beside it run out of the range of numbers, so all is added up as logarithms, with the
uniform expansion for large orders (F. W. J. Olver 1954, The asymptotic expansion of Bessel
functions of large order, Philosophical Transactions of the Royal Society A 247, 328-368; NIST
Digital Library of Mathematical Functions, 10.41.3).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_LARGE_ORDER = 30.0  # from which four terms of the expansion give nine digits
_AT_CENTRE = 1e-8  # a centre so close to 0 is there


def length_density(before: Floats, after: Floats, n_variables: int, weight: float) -> Floats:
    r"""
    Density of the next length of *z* given this one; shape (n_before, n_after).

    :math:`y (y/c)^{p/2-1} e^{-(y^2+c^2)/2} I_{p/2-1}(c y)`, lengths in units of the weight.

    Parameters
    ----------
    before, after : array
        Lengths in sigmas; *after* above 0.
    n_variables : int
        *p*.
    weight : float
        Of the newest point.

    Returns
    -------
    array, shape (n_before, n_after)
    """
    from scipy.special import gammaln

    order = n_variables / 2.0 - 1.0
    y = after / weight
    centre = (1.0 - weight) * before[:, None] / weight
    near = centre < _AT_CENTRE
    c = np.where(near, 1.0, centre)
    away = np.log(y) + order * np.log(y / c) - (y - c) ** 2 / 2.0 + _log_scaled_bessel(order, c * y)
    central = (
        (n_variables - 1) * np.log(y)
        - y**2 / 2.0
        - order * math.log(2.0)
        - gammaln(n_variables / 2.0)
    )
    return np.asarray(np.exp(np.where(near, central, away)) / weight, dtype=float)


def _log_scaled_bessel(order: float, x: Floats) -> Floats:
    r"""Logarithm of :math:`e^{-x} I_v(x)`."""
    from scipy.special import ive

    if order < _LARGE_ORDER:
        return np.asarray(np.log(ive(order, x)), dtype=float)
    z = x / order
    root = np.sqrt(1.0 + z * z)
    t = 1.0 / root
    s = t * t
    terms = (
        t * (3.0 - 5.0 * s) / 24.0,
        s * (81.0 + s * (-462.0 + 385.0 * s)) / 1152.0,
        t * s * (30375.0 + s * (-369603.0 + s * (765765.0 - 425425.0 * s))) / 414720.0,
        s**2
        * (4465125.0 + s * (-94121676.0 + s * (349922430.0 + s * (-446185740.0 + 185910725.0 * s))))
        / 39813120.0,
    )
    series = sum(term / order ** (place + 1) for place, term in enumerate(terms))
    exponent = order * (root - z + np.log(z / (1.0 + root)))
    log_scale = -0.5 * np.log(2.0 * math.pi * order * root)
    return np.asarray(exponent + log_scale + np.log1p(series), dtype=float)
