"""Checks of arguments that several charts share."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

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
    row = np.array(values, dtype=float)
    if row.ndim != 1 or np.isinf(row).any():
        msg = f"values must be one row of finite numbers or NaN, got shape {row.shape}"
        raise ValueError(msg)
    row.flags.writeable = False
    return row


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
    table = np.array(values, dtype=float)
    if table.ndim != 2 or table.shape[1] == 0 or np.isinf(table).any():
        msg = (
            "values must be a table of finite numbers or NaN, one row per point, got shape "
            f"{table.shape}"
        )
        raise ValueError(msg)
    return table


def chance(name: str, value: float) -> float:
    """
    Return *value* if it lies strictly between 0 and 1.

    Raises
    ------
    ValueError
        It does not; the message names the argument.

    Examples
    --------
    >>> chance("level", 0.95)
    0.95
    """
    if not 0.0 < value < 1.0:
        msg = f"{name} must lie between 0 and 1, got {value}"
        raise ValueError(msg)
    return value
