"""Capability: how the spread of a stable parameter compares with its tolerance."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import chance, real
from weakstep.charts.index_intervals import (
    centred_index_interval,
    one_sided_index_interval,
    spread_index_interval,
)
from weakstep.charts.normal import normal_cdf
from weakstep.charts.row_checks import one_row
from weakstep.errors import NotEnoughError
from weakstep.interval import Interval

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

_LEAST = 10  # values


@dataclass(frozen=True)
class Capability:
    """
    Indices of one parameter against its tolerance; None where a limit is missing.

    Attributes
    ----------
    cp, cpk : Interval or None
        From the spread between neighbours (within).
    pp, ppk : Interval or None
        From the spread of all values (overall); ISO 22514-2 calls these performance.
    outside_observed : float
        Share of the values outside the tolerance.
    outside_expected : float
        Share of a normal distribution with the overall mean and spread.
    """

    cp: Interval | None
    cpk: Interval
    pp: Interval | None
    ppk: Interval
    outside_observed: float
    outside_expected: float


def capability(
    values: ArrayLike,
    *,
    lower: float | None = None,
    upper: float | None = None,
    sigma: float,
    degrees_of_freedom: float,
    moved: str | None = None,
    level: float = 0.95,
) -> Capability:
    r"""
    Capability and performance of a stable, normal parameter.

    :math:`C_p = (U - L) / 6 \sigma`, :math:`C_{pk} = \min(U - \bar x, \bar x - L) / 3 \sigma`, and
    Pp, Ppk the same with the standard deviation *s* of all values. With one limit the intervals of
    Cpk and Ppk are those of `one_sided_index_interval`, with two those of `centred_index_interval`.

    Parameters
    ----------
    values : array_like, shape (n_values,)
        In one unit; NaN where not logged.
    lower, upper : float, optional
        Limits of the tolerance, in the unit; at least one.
    sigma, degrees_of_freedom : float
        Spread between neighbours: `limits.sigma` of an individuals chart, and its degrees of
        freedom.
    moved : str, optional
        Why the parameter is not stable, a phrase; capability is then refused with it.
    level : float, default 0.95

    Returns
    -------
    Capability

    Raises
    ------
    ValueError
        The tolerance is missing or upside down, or sigma is not above 0.
    NotEnoughError
        *moved* is given, or fewer than 10 values that vary.

    References
    ----------
    ISO 22514-2, Statistical methods in process management, Capability and performance, part 2.

    Examples
    --------
    >>> found = capability(np.tile([14.0, 18.0], 10), lower=8, upper=20, sigma=2.0,
    ...                    degrees_of_freedom=12)
    >>> round(found.cp.estimate, 3), round(found.cpk.estimate, 4)
    (1.0, 0.6667)
    """
    check_tolerance(lower, upper)
    if moved is not None:
        msg = f"No capability is stated, because the parameter is not stable: {moved}."
        raise NotEnoughError(msg)
    real("sigma", sigma, above=0.0)
    chance("level", level)
    known = one_row(values)
    known = known[~np.isnan(known)]
    if len(known) < _LEAST or np.ptp(known) == 0.0:
        msg = f"Capability needs at least {_LEAST} values that vary; {len(known)} logged."
        raise NotEnoughError(msg)
    low = -math.inf if lower is None else lower
    high = math.inf if upper is None else upper
    mean, overall = float(known.mean()), float(known.std(ddof=1))
    room = min(high - mean, mean - low) / 3.0
    both = lower is not None and upper is not None
    tails = normal_cdf([(low - mean) / overall, (mean - high) / overall])
    freedom = float(len(known) - 1)
    index_interval = centred_index_interval if both else one_sided_index_interval
    return Capability(
        cp=spread_index_interval((high - low) / (6.0 * sigma), degrees_of_freedom, level)
        if both
        else None,
        cpk=index_interval(room / sigma, len(known), level, freedom=degrees_of_freedom),
        pp=spread_index_interval((high - low) / (6.0 * overall), freedom, level) if both else None,
        ppk=index_interval(room / overall, len(known), level),
        outside_observed=float(((known < low) | (known > high)).mean()),
        outside_expected=float(tails.sum()),
    )


def check_tolerance(lower: float | None, upper: float | None) -> None:
    """Raise ValueError when both limits of a tolerance are missing or they are upside down."""
    if lower is None and upper is None:
        msg = "give the lower or the upper limit of the tolerance, or both"
        raise ValueError(msg)
    for name, limit in (("lower", lower), ("upper", upper)):
        if limit is not None:
            real(name, limit)
    if lower is not None and upper is not None and not lower < upper:
        msg = f"the lower limit of the tolerance must lie below the upper, got {lower} and {upper}"
        raise ValueError(msg)
