"""At which values a trial runs a parameter: never outside the log, never beyond a rated limit."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.errors import LogError, NotEnoughError
from weakstep.failures.windows import rated_range
from weakstep.failures.words import counted, named, number_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from weakstep.failures.model import Window
    from weakstep.process.model import Parameter
    from weakstep.runlog.model import RunLog

SETTABLE = ("setting", "reading")
_OUTER = (0.1, 0.9)  # quantiles of the log between which levels are chosen unasked
_FEWEST_RUNS = 5


@dataclass(frozen=True)
class Levels:
    """
    The values of one parameter in a trial.

    Attributes
    ----------
    column : str
    values : tuple of float
        Rising, in the parameter's unit.
    lowest, highest : float
        What the log has seen, within rated limits.
    """

    column: str
    values: tuple[float, ...]
    lowest: float
    highest: float


def choose_levels(
    log: RunLog,
    column: str,
    *,
    asked: Sequence[float] | None = None,
    window: Window | None = None,
    count: int = 2,
) -> Levels:
    """
    Choose the levels of a parameter, or check those asked for.

    Parameters
    ----------
    log : RunLog
    column : str
        A number or yes/no parameter that can be set.
    asked : sequence of float, optional
        Levels of the user's own; refused outside the range of the log or beyond a rated limit.
    window : Window, optional
        From the review: the levels are then the median inside it and a value that the log often
        reached outside it, on the side where more runs lie.
    count : int, default 2
        Levels, 2 or 3; ignored with *asked*.

    Returns
    -------
    Levels

    Raises
    ------
    LogError
        The column is not in the log, cannot be set, or a level lies outside its range.
    NotEnoughError
        The log holds too few different values.
    """
    parameter = _settable(log, column)
    logged = log.runs.numbers[column].to_numpy(dtype=float)
    logged = logged[~np.isnan(logged)]
    low, high = rated_range(log.process, log.runs, column)
    allowed = logged[(logged >= low) & (logged <= high)]
    if len(allowed) < _FEWEST_RUNS or allowed.min() == allowed.max():
        msg = (
            f"The log holds too few different values of '{column}' (within rated limits) to choose "
            "levels for a trial; log more runs first."
        )
        raise NotEnoughError(msg)
    lowest, highest = float(allowed.min()), float(allowed.max())
    if parameter.kind == "yes_no":
        if asked is not None and set(asked) != {0.0, 1.0}:
            msg = f"{named(parameter)} is yes or no: its two levels are no:yes."
            raise LogError(msg)
        return Levels(column, (0.0, 1.0), 0.0, 1.0)
    if asked is not None:
        return Levels(column, _checked(parameter, asked, lowest, highest), lowest, highest)
    ends = None if window is None else _across(allowed, window)
    chosen = sorted(ends or map(float, np.quantile(allowed, _OUTER)))
    first, last = (_inside(value, parameter, lowest, highest) for value in chosen)
    if first >= last:
        first, last = lowest, highest
    values = [first, last]
    if count > 2:
        middle = math.sqrt(first * last) if parameter.scale == "log" and first > 0 else None
        middle = (first + last) / 2.0 if middle is None else middle
        values.insert(1, _inside(middle, parameter, lowest, highest))
    return Levels(column, tuple(values), lowest, highest)


def _settable(log: RunLog, column: str) -> Parameter:
    if not log.process.has(column) or column not in log.runs.numbers.columns:
        msg = (
            f"The log has no numbers for '{column}'. It carries: "
            f"{', '.join(map(str, log.runs.numbers.columns))}."
        )
        raise LogError(msg)
    parameter = log.process.parameter(column)
    if parameter.formula is not None:
        msg = f"'{column}' is computed from others; vary one of those on purpose instead."
        raise LogError(msg)
    if parameter.role not in SETTABLE:
        msg = (
            f"'{column}' ({parameter.role}) cannot be set for a run. Name a setting, or plan "
            "blocks so that it stays alike within each."
        )
        raise LogError(msg)
    return parameter


def _checked(
    parameter: Parameter, asked: Sequence[float], lowest: float, highest: float
) -> tuple[float, ...]:
    values = tuple(sorted(set(asked)))
    if not 2 <= len(values) <= 3:
        found = counted(len(values), "level")
        msg = f"{named(parameter)}: found {found} of different values, expected 2 or 3."
        raise LogError(msg)
    for value in values:
        if not lowest <= value <= highest:
            msg = (
                f"{number_words(value, parameter)} for {named(parameter)} is outside what the log "
                f"has seen within rated limits ({number_words(lowest, parameter)} to "
                f"{number_words(highest, parameter)}). Choose a level inside it."
            )
            raise LogError(msg)
    return values


def _across(values: np.ndarray, window: Window) -> tuple[float, float] | None:
    """
    Median inside a window, and a value outside it on its fuller side; None when a side is empty.

    Outside, the farther of the median there and what one run in ten passed in the log: levels
    farther apart need fewer runs.
    """
    low = -np.inf if window.lower is None else window.lower
    high = np.inf if window.upper is None else window.upper
    inside = values[(values >= low) & (values <= high)]
    below, above = values[values < low], values[values > high]
    if not len(inside) or not len(below) + len(above):
        return None
    far_below, far_above = (float(np.quantile(values, share)) for share in _OUTER)
    if len(above) >= len(below):
        outside = max(float(np.median(above)), far_above)
    else:
        outside = min(float(np.median(below)), far_below)
    return float(np.median(inside)), outside


def _inside(value: float, parameter: Parameter, lowest: float, highest: float) -> float:
    """Round as the parameter is printed, without leaving the range."""
    rounded = round(value, parameter.decimals)
    return rounded if lowest <= rounded <= highest else value
