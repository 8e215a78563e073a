"""Checks of rows and tables of values that charts are made of."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import numbers

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def one_row(values: ArrayLike) -> NDArray[np.float64]:
    """
    Return a copy of *values* as one row of numbers, read-only; NaN marks what is not logged.

    Raises
    ------
    ValueError
        A value is infinite, or *values* is not one row.

    Examples
    --------
    >>> one_row([1, 2]).tolist()
    [1.0, 2.0]
    """
    row = numbers("values", values)
    if row.ndim != 1 or np.isinf(row).any():
        msg = f"values must be one row of finite numbers or NaN, {found_instead(row, 1)}"
        raise ValueError(msg)
    row.flags.writeable = False
    return row


def found_instead(given: NDArray[np.float64], dimensions: int) -> str:
    """Say what is wrong with numbers that should be finite or NaN: their shape, or which is not."""
    if given.ndim == dimensions and np.isinf(given).any():
        place = [int(index) for index in np.argwhere(np.isinf(given))[0]]
        at = ", ".join(str(index) for index in place)
        return f"found {given[tuple(place)]:g} at place {at} (from 0)"
    return f"got shape {given.shape}"


def one_table(values: ArrayLike) -> NDArray[np.float64]:
    """
    Return a copy of *values* as a table, one row per point; NaN marks what is not logged.

    Raises
    ------
    ValueError
        A value is infinite, or *values* is not a table with at least one column.

    Examples
    --------
    >>> one_table([[1, 2], [3, 4]]).shape
    (2, 2)
    """
    table = numbers("values", values)
    if table.ndim != 2 or table.shape[1] == 0 or np.isinf(table).any():
        msg = (
            "values must be a table of finite numbers or NaN, one row per point, "
            f"{found_instead(table, 2)}"
        )
        raise ValueError(msg)
    return table
