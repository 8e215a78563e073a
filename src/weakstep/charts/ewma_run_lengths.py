"""Run lengths of EWMA charts, by integral equations: see `weakstep.charts.ewma_chains`."""

from __future__ import annotations

import math
from itertools import chain as chain_of
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.chain import told
from weakstep.charts.checks import real, whole_number
from weakstep.charts.ewma_chains import (
    check_ewma,
    cut_grid,
    cut_moves,
    ewma_chain,
    ewma_limit,
    law_after,
    under_limits,
)
from weakstep.charts.run_length_laws import RunLengthLaw, survivals_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_SETTLED = 1e-12  # growth of exact EWMA limits that no longer matters
_MOST_GROWING = 7000  # points that are followed one by one while limits grow; more take minutes


def ewma_law(
    weight: float,
    width: float,
    shift: float = 0.0,
    *,
    constant_limits: bool = True,
    steady_state: bool = False,
    head_start: float = 0.0,
    shewhart_limit: float | None = None,
) -> RunLengthLaw:
    r"""
    Distribution of the run length of a two-sided EWMA chart of normal values.

    Parameters
    ----------
    weight, width : float
        :math:`\lambda`, and *L* in standard deviations of the weighted mean.
    shift : float, default 0
        Of the mean, in sigmas of a single value.
    constant_limits : bool, default True
        False: the limits that grow with the number of points; for weights of 0.002 and more.
    steady_state : bool, default False
        The shift comes long after the start, without a signal before, rather than at the start.
    head_start : float, default 0
        Where the weighted mean starts, from the centre, in sigmas of a single value; within the
        constant limits.
    shewhart_limit : float, optional
        Limit for single values, in sigmas: the combined Shewhart-EWMA chart, which also signals
        when a value lies beyond it on either side.

    Returns
    -------
    RunLengthLaw
        Average, standard deviation, quantiles and survival, in points.

    Raises
    ------
    ValueError
        An argument is out of range.

    References
    ----------
    S. V. Crowder (1987), A simple method for studying run-length distributions of exponentially
    weighted moving average charts, Technometrics 29, 401-407. J. M. Lucas and M. S. Saccucci
    (1990), Exponentially weighted moving average control schemes: properties and enhancements,
    Technometrics 32, 1-12.

    Examples
    --------
    >>> law = ewma_law(0.1, 2.814, 1.0)
    >>> round(law.average, 2), round(law.sd, 2), law.quantile(0.5)
    (10.33, 4.75, 9)
    """
    check_ewma(weight, width, shift, shewhart_limit)
    chain = ewma_chain(weight, width, shewhart_limit)
    limit = ewma_limit(weight, width, shewhart_limit)
    if abs(real("head_start", head_start)) > limit or (head_start and steady_state):
        msg = (
            f"head_start must lie within the limits ({limit:g}) of a chart that starts, got "
            f"{head_start}"
        )
        raise ValueError(msg)
    if steady_state:
        return chain.steady_law(shift)
    if constant_limits or weight == 1.0:
        return chain.law(head_start, shift)
    settled = _settled_points(weight)
    left, law = _growing(settled, weight, width, shift, head_start, shewhart_limit, settles=True)
    return law_after(left, law, chain, shift)


def ewma_run_length(
    weight: float,
    width: float,
    shift: float = 0.0,
    *,
    constant_limits: bool = True,
    steady_state: bool = False,
    head_start: float = 0.0,
    shewhart_limit: float | None = None,
) -> float:
    """
    Average run length of a two-sided EWMA chart of normal values: the average of `ewma_law`.

    Parameters
    ----------
    weight, width, shift, constant_limits, steady_state, head_start, shewhart_limit
        As for `ewma_law`.

    Returns
    -------
    float
        In points; infinite where it is beyond 1e12.

    Raises
    ------
    ValueError
        An argument is out of range.

    Examples
    --------
    >>> round(ewma_run_length(0.1, 2.814), 1), round(ewma_run_length(0.1, 2.814, 1.0), 2)
    (499.6, 10.33)
    """
    check_ewma(weight, width, shift, shewhart_limit)
    if constant_limits and not steady_state and not head_start:
        return told(ewma_chain(weight, width, shewhart_limit).run_length_from(0.0, shift))
    law = ewma_law(
        weight,
        width,
        shift,
        constant_limits=constant_limits,
        steady_state=steady_state,
        head_start=head_start,
        shewhart_limit=shewhart_limit,
    )
    return law.average


def _growing(
    n_points: int,
    weight: float,
    width: float,
    shift: float,
    start: float = 0.0,
    single: float | None = None,
    *,
    settles: bool = False,
) -> tuple[Floats, Floats]:
    """
    Chance of no signal by each point under growing limits, and the law of the last state.

    With *settles* the last limits count as the constant ones, whose nodes the law then stands on.
    """
    if n_points > _MOST_GROWING:
        msg = (
            f"limits that grow can be followed over {_MOST_GROWING} points, and with a weight of "
            f"{weight:g} they grow over {n_points}: take constant_limits=True"
        )
        raise ValueError(msg)
    shares = np.sqrt(1.0 - (1.0 - weight) ** (2.0 * np.arange(1, n_points + 2)))
    if settles:
        shares[-2:] = 1.0
    limits = shares * ewma_limit(weight, width, None)
    if single is None:
        return under_limits(-limits[:-1], limits[:-1], weight, shift, start)
    limits = np.minimum(limits, single)
    left = np.empty(n_points)
    states, law = np.array([start]), np.ones(1)
    for point, (limit, following) in enumerate(pairwise(limits)):
        grid = cut_grid(limit, weight, single, following)
        law = law @ cut_moves(states, grid, weight, single, shift)
        states, left[point] = grid.places, law.sum()
    return left, law


def ewma_survival(
    n_points: int,
    weight: float,
    width: float,
    shift: float = 0.0,
    *,
    constant_limits: bool = True,
    shewhart_limit: float | None = None,
) -> Floats:
    """
    Chance that an EWMA chart has not signalled by each point; shape (n_points,).

    Parameters
    ----------
    n_points : int
    weight, width, shift, constant_limits, shewhart_limit
        As for `ewma_law`.

    Returns
    -------
    array, shape (n_points,)

    Raises
    ------
    ValueError
        An argument is out of range.

    Examples
    --------
    >>> float(ewma_survival(1, 1.0, 3.0)[0].round(6))
    0.9973
    """
    whole_number("n_points", n_points, 0)
    check_ewma(weight, width, shift, shewhart_limit)
    chain = ewma_chain(weight, width, shewhart_limit)
    if constant_limits or weight == 1.0:
        return chain.survival(n_points, 0.0, shift)
    settled = _settled_points(weight)
    if n_points <= settled:
        return _growing(n_points, weight, width, shift, 0.0, shewhart_limit)[0]
    left, law = _growing(settled, weight, width, shift, 0.0, shewhart_limit, settles=True)
    return survivals_of(chain_of(left[:-1].tolist(), chain.survivals(law, shift)), n_points)


def _settled_points(weight: float) -> int:
    """Points after which growing limits are the constant ones."""
    return math.ceil(math.log(_SETTLED) / (2.0 * math.log1p(-weight)))
