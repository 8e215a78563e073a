"""Checks of arguments that several charts share: each refusal is one sentence."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

_LARGEST = 1e100  # in size; squares and cubes of more would run over
_MOST = 10**9  # that can be counted here


def numbers(name: str, values: ArrayLike) -> NDArray[np.float64]:
    """
    Return a copy of *values* as numbers, of whatever shape.

    What a masked array hides becomes NaN. Sizes below 1e-100 count as 0, and finite ones beyond
    1e100 are refused: their squares are no longer numbers here.

    Raises
    ------
    ValueError
        They are not such numbers; the message names the argument.

    Examples
    --------
    >>> numbers("values", [1, 2]).tolist()
    [1.0, 2.0]
    >>> numbers("values", np.ma.array([1.0, 2.0], mask=[False, True])).tolist()
    [1.0, nan]
    """
    try:
        given = np.array(values)
        if given.dtype.kind in "USmMc" or isinstance(values, str | bytes | dict | set):
            raise TypeError
        found = np.array(given, dtype=float)
    except (TypeError, ValueError):
        msg = f"{name} must hold numbers of equally long rows, got {_short(values)}"
        raise ValueError(msg) from None
    if isinstance(values, np.ma.MaskedArray):
        found[np.ma.getmaskarray(values)] = np.nan
    size = np.abs(found)
    if (np.isfinite(size) & (size > _LARGEST)).any():
        msg = f"{name} must hold numbers of at most {_LARGEST:g} in size, found {size.max():g}"
        raise ValueError(msg)
    found[size < 1.0 / _LARGEST] = 0.0
    return found


def _short(values: object) -> str:
    words = repr(values)
    return words if len(words) <= 60 else words[:57] + "..."


def _as_float(value: object) -> float:
    """Return the number that *value* is; NaN where it is none (text and truth values are none)."""
    if isinstance(value, str | bytes | bool):
        return math.nan
    try:
        return float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, OverflowError):
        return math.nan


def real(
    name: str,
    value: float,
    *,
    above: float = -math.inf,
    least: float = -math.inf,
    most: float = math.inf,
) -> float:
    """
    Return *value* as a float if it is a finite number within the bounds; below 1e-100 it is 0.

    Parameters
    ----------
    name : str
        Of the argument, for the message.
    value : float
    above : float
        It must be more than this.
    least, most : float
        It must not be less or more.

    Raises
    ------
    ValueError
        It is none; the message names the argument and its bounds.

    Examples
    --------
    >>> real("sigma", 2, above=0.0)
    2.0
    """
    number = _as_float(value)
    number = 0.0 if abs(number) < 1.0 / _LARGEST else number
    if abs(number) > _LARGEST or not (number > above and least <= number <= most):
        msg = f"{name} must be {_bounds(number, above, least, most)}, got {value!r}"
        raise ValueError(msg)
    return number


def _bounds(number: float, above: float, least: float, most: float) -> str:
    """Tell in words what *number* should have been."""
    if math.isfinite(least) and math.isfinite(most):
        return f"from {least:g} to {most:g}"
    words = [f"above {above:g}"] if math.isfinite(above) else []
    words += [f"at least {least:g}"] if math.isfinite(least) else []
    words += [f"at most {most:g}"] if math.isfinite(most) else []
    size = f" (at most {_LARGEST:g} in size)" if _LARGEST < abs(number) < math.inf else ""
    return " and ".join([*words, "finite"]) + size


def degrees(name: str, value: float) -> float:
    """
    Return *value* if it can be degrees of freedom: above 0, infinite where sigma is known.

    Raises
    ------
    ValueError
        It cannot; the message names the argument.

    Examples
    --------
    >>> degrees("freedom", 19), degrees("freedom", math.inf)
    (19.0, inf)
    """
    return math.inf if value == math.inf else real(name, value, above=0.0)


def whole_number(name: str, value: int, least: int) -> int:
    """
    Return *value* as an int if it is a whole number of at least *least*.

    Raises
    ------
    ValueError
        It is not; the message names the argument.

    Examples
    --------
    >>> whole_number("n", 5.0, 2)
    5
    """
    number = _as_float(value)
    if not least <= number <= _MOST or number != math.floor(number):
        msg = f"{name} must be a whole number of at least {least}, got {value!r}"
        raise ValueError(msg)
    return int(number)


def places(name: str, given: ArrayLike) -> list[int]:
    """
    Return *given* as a list of whole numbers.

    Raises
    ------
    ValueError
        It is none; the message names the argument.

    Examples
    --------
    >>> places("left_out", [3, 5])
    [3, 5]
    """
    row = numbers(name, given)
    if row.ndim != 1 or (row != np.floor(row)).any() or np.isinf(row).any():
        msg = f"{name} must be one row of whole numbers, got {_short(given)}"
        raise ValueError(msg)
    return [int(place) for place in row]


def marked(name: str, given: ArrayLike, n_runs: int) -> NDArray[np.bool_]:
    """
    Return which of *n_runs* runs are meant, by a truth value for each or by their places.

    Truth values are `bool` only; 0 and 1 are places, as all whole numbers are.

    Raises
    ------
    ValueError
        They are neither, or a place lies outside the runs; the message names the argument.

    Examples
    --------
    >>> marked("baseline", [True, False, True], 3).tolist()
    [True, False, True]
    >>> marked("baseline", [0, 1], 3).tolist()
    [True, True, False]
    """
    if (truths := np.array(given)).dtype == bool and truths.size:
        if truths.shape != (n_runs,):
            msg = f"{name} must mark the {n_runs} runs of values, got shape {truths.shape}"
            raise ValueError(msg)
        return truths
    row = places(name, given)
    outside = [place for place in row if not 0 <= place < n_runs]
    if outside:
        msg = f"{name} must hold places from 0 to {n_runs - 1}, found {outside[0]}"
        raise ValueError(msg)
    found = np.zeros(n_runs, dtype=bool)
    found[row] = True
    return found


def whole_counts(name: str, values: ArrayLike) -> NDArray[np.float64]:
    """
    Return *values* as one row of counts: whole, finite, not negative.

    Raises
    ------
    ValueError
        They are not; the message names the argument.

    Examples
    --------
    >>> whole_counts("faults", [3, 0]).tolist()
    [3.0, 0.0]
    """
    row = numbers(name, values)
    if row.ndim != 1:
        msg = f"{name} must be one row, got shape {row.shape}"
        raise ValueError(msg)
    wrong = row[~(np.isfinite(row) & (row >= 0.0) & (row == np.floor(row)))]
    if len(wrong):
        msg = f"{name} must be whole counts, none negative, found {wrong[0]:g}"
        raise ValueError(msg)
    return row


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
    number = real(name, value)
    if not 0.0 < number < 1.0:
        msg = f"{name} must lie between 0 and 1, got {value}"
        raise ValueError(msg)
    return number
