"""Signals of single values on charts that add them up: the Shewhart limit of a combined chart."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.model import Signal

if TYPE_CHECKING:
    from numpy.typing import NDArray

_ROUNDING = 1e-9  # a value on the limit is not beyond it


def single_signals(
    off: NDArray[np.float64], limit: float | None, *, upwards: bool = False
) -> tuple[Signal, ...]:
    """
    Signals of values beyond a limit of their own.

    Parameters
    ----------
    off : array, shape (n_points,)
        Distance from the target in sigmas; NaN where not logged.
    limit : float or None
        In sigmas; None gives no signal.
    upwards : bool, default False
        Only values above; else on either side.
    """
    if limit is None:
        return ()
    beyond = (off if upwards else np.abs(off)) > limit + _ROUNDING
    return tuple(
        Signal("value_beyond_limit", "a single value beyond its own limit", (int(place),))
        for place in np.flatnonzero(beyond)
    )
