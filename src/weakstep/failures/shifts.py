"""What a shift of one parameter did to the expected failures, by the fitted curve of a factor."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.interval import Interval

if TYPE_CHECKING:
    from collections.abc import Sequence

    from weakstep.failures.model import Factor


@dataclass(frozen=True)
class Consequence:
    """
    Change in expected failures that goes with a shift of one parameter.

    Attributes
    ----------
    family, column : str
    failures : Interval
        More (or, below 0, fewer) failed chips among those tested since the shift than with the
        parameter where it was; associated with it, other things as logged.
    chips : int
        Tested since the shift.
    """

    family: str
    column: str
    failures: Interval
    chips: int


def consequence_of_shift(
    factor: Factor, values: np.ndarray, tested: np.ndarray, *, since: int, shift: float | np.ndarray
) -> Consequence | None:
    r"""
    Compare expected failures since a shift with those had it not happened.

    :math:`\sum_i m_i [p(v_i) - p(v_i - d)]` over runs from *since* on, *p* the factor's curve. The
    interval joins the ends of the curve's two bands (highest now with lowest without the shift,
    and the other way), so it is wider than its level asks for.

    Parameters
    ----------
    factor : Factor
    values : array, shape (n_runs,)
        In the parameter's unit; NaN where not logged (left out).
    tested : array of int, shape (n_runs,)
    since : int
        Index of the first shifted run.
    shift : float or array, shape (n_runs,)
        *d*, in the unit; an array where the shift grew.

    Returns
    -------
    Consequence or None
        None when the factor has no curve or no chip was tested since.
    """
    curve = factor.curve
    runs = np.arange(len(values))
    used = (runs >= since) & np.isfinite(values) & (tested > 0)
    if curve is None or not used.any():
        return None
    chips = tested[used].astype(float)

    def expected(line: np.ndarray, at: np.ndarray) -> float:
        return float(chips @ np.interp(at, curve.values, line))

    now, without = values[used], (values - shift)[used]
    estimate = expected(curve.estimate, now) - expected(curve.estimate, without)
    lower = expected(curve.lower, now) - expected(curve.upper, without)
    upper = expected(curve.upper, now) - expected(curve.lower, without)
    return Consequence(
        family=factor.family,
        column=factor.column,
        failures=Interval(estimate, min(lower, estimate), max(upper, estimate), curve.level),
        chips=int(chips.sum()),
    )


def shift_of_shares(values: np.ndarray, before: float, after: float) -> np.ndarray:
    r"""
    Return how far each run's share of yes has moved, for a yes that became more or less frequent.

    Shares went from *before* to *after* on average. Where yes became more frequent each run keeps
    before / after of its yes, so that the runs had *before* on average; where it became rarer the
    same goes for its no.

    Parameters
    ----------
    values : array, shape (n_runs,)
        Between 0 and 1; NaN where not logged.
    before, after : float
        Between 0 and 1.

    Returns
    -------
    array, shape (n_runs,)
        To be taken off the values.

    Examples
    --------
    >>> shift_of_shares(np.array([1.0, 0.0, 1.0, 0.0]), before=0.25, after=0.5)
    array([0.5, 0. , 0.5, 0. ])
    """
    if after >= before:
        return np.asarray(values * (1.0 - before / after if after > 0.0 else 0.0))
    return np.asarray((values - 1.0) * (1.0 - (1.0 - before) / (1.0 - after)))


def moved_since_the_start(
    values: np.ndarray,
    levels: Sequence[tuple[int, float]],
    start: float,
    *,
    shares: bool,
    grows: bool,
) -> np.ndarray:
    """
    Return how far each run has moved from the level before any change.

    Parameters
    ----------
    values : array, shape (n_runs,)
        In the parameter's unit; NaN where not logged.
    levels : sequence of (int, float)
        First run of each new level, and the level, in order of time.
    start : float
        Level before the first of them.
    shares : bool
        Whether the values are shares of yes.
    grows : bool
        Whether the (only) level is reached bit by bit, at the last run.

    Returns
    -------
    array, shape (n_runs,)
        To be taken off the values; 0 before the first change.

    Examples
    --------
    >>> moved_since_the_start(np.zeros(4), [(1, 5.0), (3, 2.0)], 2.0, shares=False, grows=False)
    array([0., 3., 3., 0.])
    """
    moved = np.zeros(len(values))
    for since, level in levels:
        here = shift_of_shares(values, start, level) if shares else level - start
        moved[since:] = here[since:] if isinstance(here, np.ndarray) else here
    if grows:
        since = levels[0][0]
        left = max(len(values) - 1 - since, 1)
        moved *= np.clip((np.arange(len(values)) - since) / left, 0.0, 1.0)
    return moved
