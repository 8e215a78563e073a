"""What a shift of one parameter did to the expected failures, by the fitted curve of a factor."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.interval import Interval

if TYPE_CHECKING:
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
