r"""
Run lengths of EWMA charts, by integral equations.

Where the statistic stands after a point, *y*, is a state; the density of the next state given this
one is :math:`K(s, y)`. Average run lengths solve :math:`A(s) = 1 + \int A(y) K(s, y) dy`
(S. V. Crowder 1987, A simple method for studying run-length distributions of exponentially
weighted moving average charts, Technometrics 29, 401-407), here at Gauss-Legendre nodes. All
lengths are in sigmas of a single value.
"""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import chain as chain_of
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.chain import Chain
from weakstep.charts.normal import normal_pdf
from weakstep.charts.run_length_laws import RunLengthLaw, law_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_NODES = 96  # enough for eight digits of the average run lengths in the published tables
_SETTLED = 1e-12  # growth of exact EWMA limits that no longer matters


@lru_cache(maxsize=64)
def _ewma_chain(weight: float, width: float) -> Chain:
    limit = width * math.sqrt(weight / (2.0 - weight))
    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    places = limit * nodes

    def step(states: Floats, shift: float) -> Floats:
        kept = (1.0 - weight) * states[:, None]
        return normal_pdf((places - kept) / weight - shift) / weight

    return Chain(places, limit * weights, step)


def ewma_law(
    weight: float,
    width: float,
    shift: float = 0.0,
    *,
    constant_limits: bool = True,
    steady_state: bool = False,
    head_start: float = 0.0,
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
        False: the limits that grow with the number of points.
    steady_state : bool, default False
        The shift comes long after the start, without a signal before, rather than at the start.
    head_start : float, default 0
        Where the weighted mean starts, from the centre, in sigmas of a single value; within the
        constant limits.

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
    S. V. Crowder (1987), as above. J. M. Lucas and M. S. Saccucci (1990), Exponentially weighted
    moving average control schemes: properties and enhancements, Technometrics 32, 1-12.

    Examples
    --------
    >>> law = ewma_law(0.1, 2.814, 1.0)
    >>> round(law.average, 2), round(law.sd, 2), law.quantile(0.5)
    (10.33, 4.75, 9)
    """
    _check_ewma(weight, width)
    chain = _ewma_chain(weight, width)
    if abs(head_start) > chain.places[-1] or (head_start and steady_state):
        msg = f"head_start must lie within the limits, of a chart that starts, got {head_start}"
        raise ValueError(msg)
    if steady_state:
        return chain.steady_law(shift)
    if constant_limits or weight == 1.0:
        return chain.law(head_start, shift)
    settled = math.ceil(math.log(_SETTLED) / (2.0 * math.log1p(-weight)))
    left, law = _growing(settled, weight, width, shift, head_start)
    average = 1.0 + left.sum() - left[-1] + law @ chain.run_lengths(shift)
    return law_of(chain_of(left.tolist(), chain.survivals(law, shift)), float(average))


def ewma_run_length(
    weight: float,
    width: float,
    shift: float = 0.0,
    *,
    constant_limits: bool = True,
    steady_state: bool = False,
    head_start: float = 0.0,
) -> float:
    """
    Average run length of a two-sided EWMA chart of normal values: the average of `ewma_law`.

    Parameters
    ----------
    weight, width, shift, constant_limits, steady_state, head_start
        As for `ewma_law`.

    Returns
    -------
    float
        In points.

    Examples
    --------
    >>> round(ewma_run_length(0.1, 2.814), 1), round(ewma_run_length(0.1, 2.814, 1.0), 2)
    (499.6, 10.33)
    """
    _check_ewma(weight, width)
    if constant_limits and not steady_state and not head_start:
        return _ewma_chain(weight, width).run_length_from(0.0, shift)
    law = ewma_law(
        weight,
        width,
        shift,
        constant_limits=constant_limits,
        steady_state=steady_state,
        head_start=head_start,
    )
    return law.average


def _growing(
    n_points: int, weight: float, width: float, shift: float, start: float = 0.0
) -> tuple[Floats, Floats]:
    """Chance of no signal by each point under growing limits, and the law of the last state."""
    chain = _ewma_chain(weight, width)
    left = np.empty(n_points)
    states, law = np.array([start]), np.ones(1)
    for point in range(n_points):
        share = math.sqrt(1.0 - (1.0 - weight) ** (2 * (point + 1)))
        kept = (1.0 - weight) * states[:, None]
        reached = share * chain.places
        density = normal_pdf((reached - kept) / weight - shift) / weight
        law = (law @ density) * share * chain.weights
        states, left[point] = reached, law.sum()
    return left, law


def ewma_survival(
    n_points: int, weight: float, width: float, shift: float = 0.0, *, constant_limits: bool = True
) -> Floats:
    """
    Chance that an EWMA chart has not signalled by each point; shape (n_points,).

    Parameters
    ----------
    n_points : int
    weight, width, shift, constant_limits
        As for `ewma_law`.

    Examples
    --------
    >>> float(ewma_survival(1, 1.0, 3.0)[0].round(6))
    0.9973
    """
    _check_ewma(weight, width)
    if not constant_limits and weight < 1.0:
        return _growing(n_points, weight, width, shift)[0]
    return _ewma_chain(weight, width).survival(n_points, 0.0, shift)


def _check_ewma(weight: float, width: float) -> None:
    if not (0.0 < weight <= 1.0 and width > 0.0):
        msg = f"weight must be above 0 and at most 1 and width above 0, got {weight} and {width}"
        raise ValueError(msg)
