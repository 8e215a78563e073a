"""Limits of MEWMA charts for a stated average run length, or a stated chance of alarm."""

from __future__ import annotations

from functools import lru_cache

from weakstep.charts.checks import real, whole_number
from weakstep.charts.mewma_run_lengths import check_mewma, mewma_run_length, mewma_survival
from weakstep.charts.set_limits import FAR, share_of_each

_NARROWEST = 1e-3  # limit of T2


def mewma_limit(
    n_variables: int,
    weight: float,
    run_length: float = 370.0,
    *,
    family_wise: float | None = None,
    n_points: int = 1,
    n_charts: int = 1,
) -> float:
    """
    Limit of a MEWMA chart with constant limits, for what a stable process is promised.

    Parameters
    ----------
    n_variables : int
    weight : float
        Of the newest point.
    run_length : float, default 370
        Average run length, in points; above 1. Not looked at with *family_wise*.
    family_wise : float, optional
        Chance of any false alarm among *n_points* on each of *n_charts* instead.
    n_points, n_charts : int

    Returns
    -------
    float
        Of T2, no unit.

    Raises
    ------
    ValueError
        An argument is out of range, or no limit gives what is asked.

    Examples
    --------
    >>> round(mewma_limit(2, 0.1, 200.0), 2)
    8.63
    >>> round(mewma_limit(2, 0.1, family_wise=0.05, n_points=100), 2)
    13.59
    """
    check_mewma(1.0, n_variables, weight, 0.0)
    real("run_length", run_length, above=1.0, most=1e9)
    whole_number("n_points", n_points, 1)
    if family_wise is not None:
        share_of_each(family_wise, n_charts)
    return _limit(int(n_variables), weight, run_length, family_wise, n_points, n_charts)


@lru_cache(maxsize=64)
def _limit(
    n_variables: int,
    weight: float,
    run_length: float,
    family_wise: float | None,
    n_points: int,
    n_charts: int,
) -> float:
    """Find the limit once for each promise."""
    from scipy.optimize import brentq

    each = 1.0 if family_wise is None else share_of_each(family_wise, n_charts)

    def excess(limit: float) -> float:
        if family_wise is None:
            return min(mewma_run_length(limit, n_variables, weight) / run_length - 1.0, FAR)
        return float(mewma_survival(n_points, limit, n_variables, weight)[-1]) - 1.0 + each

    most = float(n_variables)
    while excess(most) < 0.0:
        most *= 1.5
    if excess(_NARROWEST) > 0.0:
        msg = "even a limit of 0 does not signal so soon: ask for a longer run length"
        raise ValueError(msg)
    return float(brentq(excess, _NARROWEST, most, xtol=1e-7))
