"""Sums that start from 0 and signal above a limit, as failures are watched by."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    import numpy as np
    from numpy.typing import NDArray


def sums_of(
    steps: Iterable[float], limit: float, starts: Sequence[bool] | NDArray[np.bool_]
) -> list[tuple[int, int]]:
    """
    Cumulate steps to sums from 0 up; return (where it began, where it passed) of each signal.

    Parameters
    ----------
    steps : array, shape (n_points,)
    limit : float
    starts : array of bool, shape (n_points,)
        Points before which the sum starts anew.

    Examples
    --------
    >>> sums_of([-1.0, 2.0, 2.0, 2.0, 2.0], 3.5, [False] * 5)
    [(1, 2), (3, 4)]
    """
    found = []
    total, began = 0.0, 0
    for place, step in enumerate(steps):
        if starts[place]:
            total = 0.0
        if total <= 0.0:
            began = place
        total = max(0.0, total + float(step))
        if total > limit:
            found.append((began, place))
            total = 0.0
    return found
