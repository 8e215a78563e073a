"""Sigma of single values from moving ranges of any number of neighbours."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import whole_number
from weakstep.charts.factors import constants
from weakstep.charts.row_checks import one_row
from weakstep.errors import NotEnoughError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


def moving_range_sigma(values: ArrayLike, span: int = 2) -> float:
    r"""
    Sigma of single values from the mean range of *span* neighbours: :math:`\overline{MR} / d_2`.

    Every *span* logged values in a row make one range, so ranges overlap. Two neighbours feel a
    drift least; more of them make sigma a little surer while values are stable.

    Parameters
    ----------
    values : array_like, shape (n_values,)
        In time order, in one unit; NaN is passed over.
    span : int, default 2
        Values in each range, at least 2.

    Returns
    -------
    float
        In the unit; for `individuals(values, sigma=...)`. Its degrees of freedom for *span* 2 are
        those of `moving_range_freedom`.

    Raises
    ------
    ValueError
        *values* is not one row of numbers, or *span* is below 2.
    NotEnoughError
        Fewer values than *span*, or all of them equal.

    References
    ----------
    D. C. Montgomery, Introduction to Statistical Quality Control, chapter on control charts for
    individual measurements. ISO 7870-2.

    Examples
    --------
    >>> round(moving_range_sigma([10.0, 12.0, 11.0, 13.0], span=3), 4)
    1.1816
    """
    whole_number("span", span, 2)
    row = one_row(values)
    known = row[~np.isnan(row)]
    if len(known) < span or np.ptp(known) == 0.0:
        msg = f"Moving ranges of {span} need {span} values that vary; {len(known)} logged."
        raise NotEnoughError(msg)
    windows = np.lib.stride_tricks.sliding_window_view(known, span)
    return float(np.ptp(windows, axis=1).mean()) / constants(int(span)).d2
