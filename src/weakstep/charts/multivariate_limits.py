"""Limits and run lengths of Hotelling's T2."""

from __future__ import annotations

import math
from typing import Literal

from weakstep.charts.checks import chance, real, whole_number
from weakstep.errors import NotEnoughError

Phase = Literal["baseline", "monitoring", "known"]


def t2_limit(
    n_variables: int,
    *,
    false_alarm: float = 0.0027,
    phase: Phase = "known",
    n_points: int = 0,
    size: int = 1,
) -> float:
    r"""
    Upper limit of T2 that a stable point passes with chance *false_alarm*.

    With *p* variables, *m* points of *n* observations: baseline points,
    :math:`\frac{(m-1)^2}{m} B_{p/2, (m-p-1)/2}` for single observations and
    :math:`\frac{p(m-1)(n-1)}{mn-m-p+1} F_{p, mn-m-p+1}` for subgroups; later points,
    :math:`\frac{p(m+1)(m-1)}{m^2 - mp} F_{p, m-p}` and
    :math:`\frac{p(m+1)(n-1)}{mn-m-p+1} F_{p, mn-m-p+1}`; parameters known, :math:`\chi^2_p`.

    Parameters
    ----------
    n_variables : int
    false_alarm : float
        Chance a point.
    phase : {"baseline", "monitoring", "known"}
    n_points, size : int
        Of the baseline.

    Returns
    -------
    float
        No unit.

    Raises
    ------
    ValueError
        An argument is out of range.
    NotEnoughError
        The baseline has too few points for so many variables.

    References
    ----------
    N. D. Tracy, J. C. Young and R. L. Mason (1992), Multivariate control charts for individual
    observations, Journal of Quality Technology 24, 88-95. F. B. Alt (1985), Multivariate quality
    control, Encyclopedia of Statistical Sciences 6.

    Examples
    --------
    >>> round(t2_limit(2, false_alarm=0.001, phase="baseline", n_points=20, size=10), 2)
    13.72
    >>> round(t2_limit(2, false_alarm=0.005), 3)
    10.597
    """
    from scipy.special import chdtri, fdtri

    chance("false_alarm", false_alarm)
    p = whole_number("n_variables", n_variables, 1)
    m, n = whole_number("n_points", n_points, 0), whole_number("size", size, 1)
    if phase not in ("baseline", "monitoring", "known"):
        msg = f"phase must be 'baseline', 'monitoring' or 'known', got {phase!r}"
        raise ValueError(msg)
    if phase == "known":
        return float(chdtri(p, false_alarm))
    freedom = m - p if n == 1 else m * n - m - p + 1
    if freedom < (2 if n == 1 else 1):
        msg = f"{m} points of {n} are too few for limits of {p} variables together."
        raise NotEnoughError(msg)
    if n > 1:
        more = m - 1 if phase == "baseline" else m + 1
        return float(p * more * (n - 1) / freedom * fdtri(p, freedom, 1.0 - false_alarm))
    if phase == "baseline":
        from scipy.special import betaincinv

        return float((m - 1) ** 2 / m * betaincinv(p / 2, (m - p - 1) / 2, 1.0 - false_alarm))
    return float(p * (m + 1) * (m - 1) / (m * freedom) * fdtri(p, freedom, 1.0 - false_alarm))


def t2_run_length(limit: float, n_variables: int, distance: float = 0.0) -> float:
    r"""
    Average run length of a T2 chart with known parameters: :math:`1 / P(\chi^2_p(\delta^2) > L)`.

    Parameters
    ----------
    limit : float
        Of T2.
    n_variables : int
    distance : float
        :math:`\delta = [n (\mu - \mu_0)' \Sigma^{-1} (\mu - \mu_0)]^{1/2}`.

    Returns
    -------
    float
        In points; infinite where the chance of a signal is too small for a number.

    Raises
    ------
    ValueError
        An argument is out of range.

    Examples
    --------
    >>> round(t2_run_length(10.597, 2), 1), round(t2_run_length(10.597, 2, 1.0), 1)
    (200.0, 41.9)
    """
    from scipy.special import chdtrc
    from scipy.stats import ncx2

    square = real("limit", limit, least=0.0, most=1e4)
    whole_number("n_variables", n_variables, 1)
    moved = real("distance", distance, least=0.0, most=100.0)
    if moved == 0.0:
        beyond = float(chdtrc(n_variables, square))
    else:
        beyond = float(ncx2.sf(square, n_variables, moved**2))
    return 1.0 / beyond if beyond > 0.0 else math.inf
