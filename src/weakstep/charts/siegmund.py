"""Siegmund's approximation of CUSUM run lengths, for reckoning by hand and for checks."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import numbers, real

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]


_FURTHEST = 100.0  # sigmas
_LARGEST = 600.0  # power of e that is still a number when divided


def siegmund_run_length(allowance: float, decision: float, shift: ArrayLike = 0.0) -> Floats:
    r"""
    Siegmund's approximation of the average run length of an upward CUSUM.

    :math:`(e^{-2 \Delta b} + 2 \Delta b - 1) / (2 \Delta^2)` with :math:`\Delta = \delta - k` and
    :math:`b = h + 1.166`; :math:`b^2` where :math:`\Delta = 0`.

    Parameters
    ----------
    allowance, decision : float
        *k* and *h*, in sigmas.
    shift : array_like
        :math:`\delta`, in sigmas.

    Returns
    -------
    array
        Shape of *shift*, in points; infinite where it is beyond numbers.

    Raises
    ------
    ValueError
        An argument is out of range.

    References
    ----------
    D. Siegmund (1985), Sequential Analysis, Springer.

    Examples
    --------
    >>> round(float(siegmund_run_length(0.5, 5.0)), 1)
    938.2
    """
    real("allowance", allowance, least=0.0, most=_FURTHEST)
    real("decision", decision, above=0.0, most=500.0)
    moved = numbers("shift", shift)
    if not (np.abs(moved) <= _FURTHEST).all():
        msg = f"shift must hold finite numbers of at most {_FURTHEST:g} in size"
        raise ValueError(msg)
    drift = moved - allowance
    reach = decision + 1.166
    safe = np.where(drift == 0.0, 1.0, drift)
    power = -2.0 * safe * reach
    length = (np.expm1(np.minimum(power, _LARGEST)) - power) / (2.0 * safe**2)
    return np.where(drift == 0.0, reach**2, np.where(power > _LARGEST, np.inf, length))
