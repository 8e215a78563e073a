r"""
Run lengths of MEWMA charts, in and out of control.

The chart looks at the length of *z* only. In control that length is a state by itself: given *r*,
:math:`(r'/\lambda)^2` of the next point is noncentral chi-squared with
:math:`((1-\lambda) r / \lambda)^2` (Rigdon's integral equation, with the length instead of its
square so that the kernel is smooth). After a shift the part of *z* along it and the length of the
part across it are states, independent of each other but for the limit that both share: the
two-dimensional chain of Runger and Prabhu, here at Gauss-Legendre nodes that fit the round limit.
"""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import islice
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.chain import Chain, told
from weakstep.charts.checks import real, whole_number
from weakstep.charts.ewma_run_lengths import ewma_law
from weakstep.charts.noncentral import length_density
from weakstep.charts.normal import normal_pdf
from weakstep.charts.quadrature import gauss_legendre, gauss_legendre_panels
from weakstep.charts.run_length_laws import RunLengthLaw, survivals_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_MOST_LIMIT, _MOST_VARIABLES, _LEAST_WEIGHT, _FURTHEST = 1e4, 500, 0.01, 100.0
_WIDEST = 100.0  # sigmas of the newest point within the limit
_NODES = 72  # of the length, in a panel: eight digits of the published limits
_PER_SIGMA = 4.0  # nodes of the length in a sigma of the newest point, for small weights
_MOST_STATES = 4000  # of the plane; more take more memory than there is
_SETTLED = 1e-12  # growth of the covariance that no longer matters
_EXTRA_NODES = 0  # of the two parts; eight more change nothing (tests/charts/test_mewma.py)


def mewma_law(
    limit: float,
    n_variables: int,
    weight: float,
    distance: float = 0.0,
    *,
    steady_state: bool = False,
) -> RunLengthLaw:
    r"""
    Distribution of the run length of a MEWMA chart with constant limits.

    Parameters
    ----------
    limit : float
        Of T2.
    n_variables : int
    weight : float
        Of the newest point.
    distance : float, default 0
        Of the shifted mean from the centre:
        :math:`\delta = [n (\mu - \mu_0)' \Sigma^{-1} (\mu - \mu_0)]^{1/2}`.
    steady_state : bool, default False
        The shift comes long after the start, without a signal before, rather than at the start.

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
    S. E. Rigdon (1995), An integral equation for the in-control average run length of a
    multivariate exponentially weighted moving average control chart, Journal of Statistical
    Computation and Simulation 52, 351-365. G. C. Runger and S. S. Prabhu (1996), A Markov chain
    model for the multivariate exponentially weighted moving averages control chart, Journal of the
    American Statistical Association 91, 1701-1706.

    Examples
    --------
    >>> law = mewma_law(8.64, 2, 0.1, 1.0)
    >>> round(law.average, 2), round(law.sd, 2), law.quantile(0.5)
    (10.13, 4.6, 9)
    """
    check_mewma(limit, n_variables, weight, distance)
    if n_variables == 1:
        return ewma_law(weight, math.sqrt(limit), distance, steady_state=steady_state)
    if distance == 0.0:
        chain = _length_chain(limit, n_variables, weight)
        return chain.steady_law(0.0) if steady_state else chain.law(0.0, 0.0)
    plane = _plane_chain(limit, n_variables, weight)
    return plane.steady_law(distance) if steady_state else plane.law((0.0, 0.0), distance)


def mewma_run_length(
    limit: float,
    n_variables: int,
    weight: float,
    distance: float = 0.0,
    *,
    steady_state: bool = False,
) -> float:
    """
    Average run length of a MEWMA chart with constant limits: the average of `mewma_law`.

    Parameters
    ----------
    limit, n_variables, weight, distance, steady_state
        As for `mewma_law`.

    Returns
    -------
    float
        In points; infinite where it is beyond 1e12.

    Raises
    ------
    ValueError
        An argument is out of range.

    References
    ----------
    As for `mewma_law`.

    Examples
    --------
    >>> round(mewma_run_length(10.597, 2, 1.0), 1), round(mewma_run_length(8.64, 2, 0.1), 1)
    (200.0, 200.5)
    """
    check_mewma(limit, n_variables, weight, distance)
    if not steady_state and distance == 0.0:
        return told(_length_chain(limit, n_variables, weight).run_length_from(0.0, 0.0))
    if not steady_state and n_variables > 1:
        return told(_plane_chain(limit, n_variables, weight).run_length_from((0.0, 0.0), distance))
    return mewma_law(limit, n_variables, weight, distance, steady_state=steady_state).average


def mewma_survival(
    n_points: int, limit: float, n_variables: int, weight: float, *, constant_limits: bool = True
) -> Floats:
    """
    Chance that a stable MEWMA chart has not signalled by each point; shape (n_points,).

    Parameters
    ----------
    n_points : int
    limit, n_variables, weight
        As for `mewma_law`.
    constant_limits : bool, default True
        False: distances by the covariance that grows with the number of points.

    Returns
    -------
    array, shape (n_points,)

    Raises
    ------
    ValueError
        An argument is out of range.

    Examples
    --------
    >>> mewma_survival(2, 10.597, 2, 1.0).round(4).tolist()
    [0.995, 0.99]
    """
    whole_number("n_points", n_points, 0)
    check_mewma(limit, n_variables, weight, 0.0)
    chain = _length_chain(limit, n_variables, weight)
    if constant_limits or weight == 1.0:
        return chain.survival(n_points, 0.0, 0.0)
    settled = min(int(n_points), math.ceil(math.log(_SETTLED) / (2.0 * math.log1p(-weight))))
    left = np.empty(settled)
    shares = np.sqrt(1.0 - (1.0 - weight) ** (2.0 * np.arange(1, settled + 1)))
    if settled < n_points:
        shares[-1] = 1.0  # so that the law stands on the nodes of limits that no longer grow
    states, law = np.zeros(1), np.ones(1)
    for point, share in enumerate(shares.tolist()):
        reached, weights = _length_nodes(share * _reach_of(limit, weight), weight)
        law = (law @ length_density(states, reached, n_variables, weight)) * weights
        states, left[point] = reached, law.sum()
    following = islice(chain.survivals(law, 0.0), 1, None)
    return np.concatenate([left, survivals_of(following, n_points - settled)])


def _reach_of(limit: float, weight: float) -> float:
    """Length of *z* at its limit."""
    return math.sqrt(limit * weight / (2.0 - weight))


def _length_nodes(reach: float, weight: float) -> tuple[Floats, Floats]:
    """Nodes of the length, and their weights."""
    panels = math.ceil(_PER_SIGMA * reach / weight / _NODES)
    return gauss_legendre_panels(0.0, reach, panels, _NODES)


@lru_cache(maxsize=64)
def _length_chain(limit: float, n_variables: int, weight: float) -> Chain:
    """Chain of the length of *z* in control."""
    lengths, weights = _length_nodes(_reach_of(limit, weight), weight)

    def step(states: Floats, _: float) -> Floats:
        return length_density(states, lengths, n_variables, weight)

    return Chain(lengths, weights, step)


@lru_cache(maxsize=16)
def _plane_chain(limit: float, n_variables: int, weight: float) -> Chain:
    """Chain of the part of *z* along a shift and the length of the part across it."""
    reach = _reach_of(limit, weight)
    # The density has a width of about the weight, so more nodes where the limit is far in weights.
    n_across = 12 + round(1.2 * reach / weight) + _EXTRA_NODES
    n_along = 14 + round(2.0 * reach / weight) + _EXTRA_NODES
    if n_across * n_along > _MOST_STATES:
        msg = (
            f"weight must not be so small for so far a limit ({weight:g}, {limit:g}): points would "
            "add up over too long a time to compute a run length after a shift"
        )
        raise ValueError(msg)
    turn, turn_weights = gauss_legendre(n_across)
    line, line_weights = gauss_legendre(n_along)
    # Along x = R cos(a) t, across y = R sin(a): smooth up to the round limit.
    angle = math.pi / 4.0 * (turn + 1.0)
    half = reach * np.cos(angle)
    height = reach * np.sin(angle)
    along = (half[:, None] * line).ravel()
    weights = (math.pi / 4.0 * turn_weights * half**2)[:, None] * line_weights

    def step(states: Floats, shift: float) -> Floats:
        kept = (1.0 - weight) * states[:, :1]
        moved = normal_pdf((along - kept) / weight - shift) / weight
        heights, place = np.unique(states[:, 1], return_inverse=True)
        grown = length_density(heights, height, n_variables - 1, weight)
        return moved * np.repeat(grown[place.ravel()], n_along, axis=1)

    return Chain(np.column_stack([along, np.repeat(height, n_along)]), weights.ravel(), step)


def check_mewma(limit: float, n_variables: int, weight: float, distance: float) -> None:
    """Raise ValueError when the numbers do not make a MEWMA chart."""
    real("limit", limit, above=0.0, most=_MOST_LIMIT)
    if whole_number("n_variables", n_variables, 1) > _MOST_VARIABLES:
        msg = f"n_variables must be at most {_MOST_VARIABLES}, got {n_variables}"
        raise ValueError(msg)
    real("weight", weight, least=_LEAST_WEIGHT, most=1.0)
    real("distance", distance, least=0.0, most=_FURTHEST)
    if _reach_of(limit, weight) > _WIDEST * weight:
        msg = (
            f"weight must not be so small for so far a limit ({weight:g}, {limit:g}): points would "
            "add up over too long a time to compute a run length"
        )
        raise ValueError(msg)
