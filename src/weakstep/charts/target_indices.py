"""Capability about a target: Cpm, which counts distance from it as well as spread."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.capability_indices import check_tolerance
from weakstep.charts.checks import real
from weakstep.charts.index_intervals import target_index_interval
from weakstep.charts.row_checks import one_row
from weakstep.errors import NotEnoughError
from weakstep.interval import Interval

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


def target_index(
    values: ArrayLike,
    *,
    lower: float,
    upper: float,
    target: float | None = None,
    level: float = 0.95,
) -> Interval:
    r"""
    Cpm of a stable, normal parameter: :math:`(U - L) / 6 \sqrt{s^2 + (\bar x - T)^2}`.

    It is :math:`P_p / \sqrt{1 + \xi^2}`, :math:`\xi = (\bar x - T) / s`, and falls when the mean
    leaves the target even within the tolerance.

    Parameters
    ----------
    values : array_like, shape (n_values,)
        In one unit; NaN is left out.
    lower, upper : float
        Limits of the tolerance.
    target : float, optional
        Default the middle of the tolerance.
    level : float, default 0.95

    Returns
    -------
    Interval
        By `target_index_interval`.

    Raises
    ------
    ValueError
        The tolerance is upside down, or the target lies outside it.
    NotEnoughError
        Fewer than 2 values, or all of them on the target.

    References
    ----------
    L. K. Chan, S. W. Cheng and F. A. Spiring (1988), A new measure of process capability: Cpm,
    Journal of Quality Technology 20, 162-175. R. A. Boyles (1991), The Taguchi capability index,
    Journal of Quality Technology 23, 17-26.

    Examples
    --------
    >>> found = target_index(np.tile([55.0, 60.0], 20), lower=35, upper=65)
    >>> round(found.estimate, 3), round(found.lower, 3), round(found.upper, 3)
    (0.632, 0.571, 0.693)
    """
    check_tolerance(real("lower", lower), real("upper", upper))
    aim = (lower + upper) / 2.0 if target is None else real("target", target)
    if not lower <= aim <= upper:
        msg = f"target must lie within the tolerance, got {target} outside {lower} to {upper}"
        raise ValueError(msg)
    row = one_row(values)
    known = row[~np.isnan(row)]
    if len(known) < 2 or np.ptp(known) == 0.0:
        msg = f"Cpm needs at least 2 values that vary; {len(known)} logged."
        raise NotEnoughError(msg)
    s, off = float(known.std(ddof=1)), float(known.mean()) - aim
    index = (upper - lower) / (6.0 * math.hypot(s, off))
    return target_index_interval(index, len(known), off / s, level)
