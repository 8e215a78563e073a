"""Laney's factor: how much more points of counts scatter than their counting model allows."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np

from weakstep.charts.factors import constants
from weakstep.charts.single_values import moving_range_freedom
from weakstep.errors import NotEnoughError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

Widen = Literal["never", "beyond chance", "always"]
_FEWEST_FOR_SPREAD = 8  # points before overdispersion is judged
_ONE_SIDED_5_PERCENT = 1.6449


def widening(widen: Widen, scatter: float, off: Floats, sigma: Floats) -> float:
    """Return the factor of the limits: 1, Laney's where it passes its bound, or Laney's."""
    if widen == "always":
        return sigma_of_z(off, sigma)
    return scatter if widen == "beyond chance" else 1.0


def sigma_of_z(off: Floats, sigma: Floats) -> float:
    r"""
    Laney's sigma of z: :math:`\overline{MR}(z) / d_2` of distances in standard deviations.

    Raises
    ------
    NotEnoughError
        Fewer than two points, or no variation.
    """
    if len(off) < 2 or not sigma.any():
        msg = f"Laney's factor needs at least 2 points and some variation; there are {len(off)}."
        raise NotEnoughError(msg)
    factor = float(np.abs(np.diff(off / sigma)).mean() / constants(2).d2)
    if factor == 0.0:
        msg = "Every point is alike, so there is no scatter from point to point to chart."
        raise NotEnoughError(msg)
    return factor


def laney_factor(off: Floats, sigma: Floats) -> float:
    """
    Laney's sigma of z where it is larger than chance allows, else 1.

    Parameters
    ----------
    off, sigma : array, shape (n_points,)
        Distance of each point from the centre, and its standard deviation by the counting model.

    Examples
    --------
    >>> laney_factor(np.tile([3.0, -3.0], 10), np.ones(20)) > 5
    True
    >>> laney_factor(np.tile([0.5, -0.5], 10), np.ones(20))
    1.0
    """
    count = len(off)
    if count < _FEWEST_FOR_SPREAD or not sigma.any():
        return 1.0
    factor = float(np.abs(np.diff(off / sigma)).mean() / constants(2).d2)
    spread = 1.0 / math.sqrt(2.0 * moving_range_freedom(count))
    return factor if factor > 1.0 + _ONE_SIDED_5_PERCENT * spread else 1.0
