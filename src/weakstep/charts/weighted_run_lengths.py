r"""
Run lengths of EWMA and CUSUM charts, by integral equations.

Where the statistic stands after a point, *y*, is a state; the density of the next state given this
one is :math:`K(s, y)`. Average run lengths solve :math:`A(s) = 1 + \int A(y) K(s, y) dy`
(E. S. Page 1954 for the CUSUM; S. V. Crowder 1987, A simple method for studying run-length
distributions of exponentially weighted moving average charts, Technometrics 29, 401-407), here at
Gauss-Legendre nodes. All lengths are in sigmas of a single value.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.chain import Chain
from weakstep.charts.normal import normal_cdf, normal_pdf

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

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


@lru_cache(maxsize=64)
def _cusum_chain(allowance: float, decision: float) -> Chain:
    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    places = np.append(0.0, decision * (nodes + 1.0) / 2.0)

    def step(states: Floats, shift: float) -> Floats:
        need = allowance - shift - states[:, None]
        density = normal_pdf(places + need)
        density[:, 0] = normal_cdf(need[:, 0])
        return density

    return Chain(places, np.append(1.0, decision * weights / 2.0), step)


def ewma_run_length(
    weight: float,
    width: float,
    shift: float = 0.0,
    *,
    constant_limits: bool = True,
    steady_state: bool = False,
) -> float:
    r"""
    Average run length of a two-sided EWMA chart of normal values.

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
    chain = _ewma_chain(weight, width)
    if steady_state:
        return chain.steady_run_length(shift)
    if constant_limits or weight == 1.0:
        return chain.run_length_from(0.0, shift)
    settled = math.ceil(math.log(_SETTLED) / (2.0 * math.log1p(-weight)))
    left, law = _growing(settled, weight, width, shift)
    return float(1.0 + left.sum() - left[-1] + law @ chain.run_lengths(shift))


def _growing(n_points: int, weight: float, width: float, shift: float) -> tuple[Floats, Floats]:
    """Chance of no signal by each point under growing limits, and the law of the last state."""
    chain = _ewma_chain(weight, width)
    left = np.empty(n_points)
    states, law = np.zeros(1), np.ones(1)
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
        As for `ewma_run_length`.

    Examples
    --------
    >>> float(ewma_survival(1, 1.0, 3.0)[0].round(6))
    0.9973
    """
    _check_ewma(weight, width)
    if not constant_limits and weight < 1.0:
        return _growing(n_points, weight, width, shift)[0]
    return _ewma_chain(weight, width).survival(n_points, 0.0, shift)


def cusum_run_length(
    allowance: float,
    decision: float,
    shift: float = 0.0,
    *,
    head_start: float = 0.0,
    two_sided: bool = True,
    steady_state: bool = False,
) -> float:
    r"""
    Average run length of a tabular CUSUM of normal values.

    Two sides join as :math:`1/A = 1/A^+ + 1/A^-`; with a head start *s*, as
    :math:`A = [A^+_s A^-_0 + A^-_s A^+_0 - A^+_0 A^-_0] / (A^+_0 + A^-_0)` (Lucas and Crosier
    1982).

    Parameters
    ----------
    allowance, decision : float
        *k* and *h*, in sigmas.
    shift : float, default 0
        Of the mean, in sigmas.
    head_start : float, default 0
        Where the sums start, in sigmas.
    two_sided : bool, default True
        False: upward sums only.
    steady_state : bool, default False
        The shift comes long after the start; upward sums only, so *two_sided* must be False.

    Returns
    -------
    float
        In points.

    Raises
    ------
    ValueError
        An argument is out of range, or a steady state is asked of both sides at once.

    Examples
    --------
    >>> round(cusum_run_length(0.5, 4.0), 2), round(cusum_run_length(0.5, 5.0, 1.0), 2)
    (167.68, 10.38)
    """
    _check_cusum(allowance, decision, head_start)
    if steady_state and two_sided:
        msg = "the steady state is that of one side: give two_sided=False"
        raise ValueError(msg)
    chain = _cusum_chain(allowance, decision)
    if steady_state:
        return chain.steady_run_length(shift)
    up_from = chain.run_length_from(head_start, shift)
    if not two_sided:
        return up_from
    up, down = chain.run_length_from(0.0, shift), chain.run_length_from(0.0, -shift)
    down_from = chain.run_length_from(head_start, -shift)
    # Divided by the larger of the two, so that a very long one does not run over.
    long, short = max(up, down), min(up, down)
    long_from, short_from = (up_from, down_from) if up >= down else (down_from, up_from)
    return float((long_from / long * short + short_from - short) / (1.0 + short / long))


def cusum_survival(
    n_points: int, allowance: float, decision: float, shift: float = 0.0, *, head_start: float = 0.0
) -> Floats:
    """
    Chance that an upward CUSUM has not signalled by each point; shape (n_points,).

    Parameters
    ----------
    n_points : int
    allowance, decision, shift, head_start : float
        As for `cusum_run_length`.

    Examples
    --------
    >>> float(cusum_survival(1, 0.5, 2.5)[0].round(6))
    0.99865
    """
    _check_cusum(allowance, decision, head_start)
    return _cusum_chain(allowance, decision).survival(n_points, head_start, shift)


def siegmund_run_length(allowance: float, decision: float, shift: ArrayLike = 0.0) -> Floats:
    r"""
    Siegmund's approximation of the average run length of an upward CUSUM.

    :math:`(e^{-2 \Delta b} + 2 \Delta b - 1) / (2 \Delta^2)` with :math:`\Delta = \delta - k` and
    :math:`b = h + 1.166`; :math:`b^2` where :math:`\Delta = 0`.

    Parameters
    ----------
    allowance, decision : float
        *k* and *h*, in sigmas.
    shift : array_like
        :math:`\delta`, in sigmas.

    Returns
    -------
    array
        Shape of *shift*, in points.

    References
    ----------
    D. Siegmund (1985), Sequential Analysis, Springer.

    Examples
    --------
    >>> round(float(siegmund_run_length(0.5, 5.0)), 1)
    938.2
    """
    drift = np.asarray(shift, dtype=float) - allowance
    reach = decision + 1.166
    safe = np.where(drift == 0.0, 1.0, drift)
    length = (np.expm1(-2.0 * safe * reach) + 2.0 * safe * reach) / (2.0 * safe**2)
    return np.where(drift == 0.0, reach**2, length)


def _check_ewma(weight: float, width: float) -> None:
    if not (0.0 < weight <= 1.0 and width > 0.0):
        msg = f"weight must be above 0 and at most 1 and width above 0, got {weight} and {width}"
        raise ValueError(msg)


def _check_cusum(allowance: float, decision: float, head_start: float) -> None:
    if not (allowance >= 0.0 and decision > 0.0 and 0.0 <= head_start < decision):
        msg = (
            "allowance must not be negative, decision above 0 and head_start from 0 to below "
            f"decision, got {allowance}, {decision} and {head_start}"
        )
        raise ValueError(msg)
