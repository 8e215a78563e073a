"""Arrays inside results cannot be changed by accident."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


def frozen(array: NDArray[np.float64]) -> NDArray[np.float64]:
    """Make *array* read-only, in place, and return it."""
    array.flags.writeable = False
    return array


def constant_line(limit: float, like: NDArray[np.float64]) -> NDArray[np.float64]:
    """One read-only entry of *limit* per point of *like*."""
    return frozen(np.full(like.shape, float(limit)))
