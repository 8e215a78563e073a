"""The normal distribution, from the error function of the standard library: no scipy needed."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

_erfc = np.frompyfunc(math.erfc, 1, 1)


def normal_cdf(z: ArrayLike) -> NDArray[np.float64]:
    r"""
    Chance that a standard normal value is at most *z*.

    .. math:: \Phi(z) = \tfrac12 \operatorname{erfc}(-z / \sqrt 2)

    Parameters
    ----------
    z : array_like
        Any shape, no unit.

    Returns
    -------
    array
        Same shape, between 0 and 1.

    Examples
    --------
    >>> normal_cdf([0.0, 1.959963984540054]).round(6).tolist()
    [0.5, 0.975]
    """
    scaled = np.asarray(z, dtype=float) / -math.sqrt(2.0)
    return 0.5 * np.asarray(_erfc(scaled), dtype=float)


def normal_pdf(z: ArrayLike) -> NDArray[np.float64]:
    r"""
    Density of the standard normal distribution, :math:`e^{-z^2/2} / \sqrt{2\pi}`.

    Parameters
    ----------
    z : array_like
        Any shape, no unit.

    Returns
    -------
    array
        Same shape.

    Examples
    --------
    >>> normal_pdf([0.0]).round(6).tolist()
    [0.398942]
    """
    values = np.asarray(z, dtype=float)
    density: NDArray[np.float64] = np.exp(-0.5 * values * values) / math.sqrt(2.0 * math.pi)
    return density
