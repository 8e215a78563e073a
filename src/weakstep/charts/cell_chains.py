r"""
Run lengths by a Markov chain over cells: the older road, beside the integral equations.

The range of the statistic is cut into cells of equal width *w*, each taken as its middle. The error
of an average run length then falls as :math:`A(w) = A + B w^2 + C w^4 + ...`, so three chains of
different widths give a better *A* (L. F. Richardson's deferred approach to the limit).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.chain import told
from weakstep.charts.checks import real, whole_number
from weakstep.charts.cusum_chains import cusum_sides
from weakstep.charts.ewma_chains import check_ewma
from weakstep.charts.normal import normal_cdf

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_MOST_CELLS = 2000  # twice as many make a system of equations of 128 MB
_FINER = (1.0, 1.5, 2.0)  # times the cells asked for, in the three chains of a refinement


def cusum_run_length_by_cells(
    allowance: float,
    decision: float,
    shift: float = 0.0,
    *,
    head_start: float = 0.0,
    cells: int = 50,
    refined: bool = True,
) -> float:
    r"""
    Average run length of an upward CUSUM by the Markov chain of Brook and Evans.

    With *t* cells of width :math:`w = 2 h / (2 t - 1)` the sum is taken to be at
    :math:`0, w, 2 w, \dots, (t - 1) w`, and
    :math:`P(i \to j) = \Phi((j - i + \tfrac12) w + k - \delta) - \Phi((j - i - \tfrac12) w + k -
    \delta)`, all that is lower going to 0. For charts in earnest `cusum_run_length` has more
    digits; this is the independent road to it, and without *refined* the published approximation.

    Parameters
    ----------
    allowance, decision : float
        *k* and *h*, in sigmas.
    shift : float, default 0
        Of the mean, in sigmas.
    head_start : float, default 0
        Where the sum starts, in sigmas.
    cells : int, default 50
        *t*, from 2 to 2000.
    refined : bool, default True
        Refine by chains of one and a half and of twice as many cells.

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
    D. Brook and D. A. Evans (1972), An approach to the probability distribution of CUSUM run
    length, Biometrika 59, 539-549.

    Examples
    --------
    >>> round(cusum_run_length_by_cells(0.5, 5.0), 3)
    930.887
    """
    (side,) = cusum_sides(allowance, decision, head_start, None, two_sided=False)
    real("shift", shift)
    _check_cells(cells)

    def chain(count: int) -> tuple[float, float]:
        width = 2.0 * side.decision / (2 * count - 1)
        middles = np.asarray(width * np.arange(count), dtype=float)

        def step(states: Floats) -> Floats:
            edges = middles + width / 2.0 + side.allowance - shift - states[:, None]
            reached = normal_cdf(edges)
            return np.diff(reached, prepend=0.0, axis=1).astype(np.float64)

        return width, _average(step, middles, side.head_start)

    return _refined(chain, cells, refined=refined)


def ewma_run_length_by_cells(
    weight: float,
    width: float,
    shift: float = 0.0,
    *,
    head_start: float = 0.0,
    cells: int = 51,
    refined: bool = True,
) -> float:
    r"""
    Average run length of an EWMA chart by the Markov chain of Lucas and Saccucci.

    Between the constant limits lie *t* cells of equal width, taken as their middles; zero state.
    For charts in earnest `ewma_run_length` has more digits; this is the independent road to it,
    and without *refined* the published approximation.

    Parameters
    ----------
    weight, width : float
        :math:`\lambda`, and *L* in standard deviations of the weighted mean.
    shift : float, default 0
        Of the mean, in sigmas of a single value.
    head_start : float, default 0
        Where the weighted mean starts, from the centre, in sigmas of a single value; within the
        limits.
    cells : int, default 51
        *t*, from 2 to 2000.
    refined : bool, default True
        Refine by chains of one and a half and of twice as many cells.

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
    J. M. Lucas and M. S. Saccucci (1990), Exponentially weighted moving average control schemes:
    properties and enhancements, Technometrics 32, 1-12.

    Examples
    --------
    >>> round(ewma_run_length_by_cells(0.1, 2.814), 2)
    499.58
    """
    check_ewma(weight, width, shift, None)
    _check_cells(cells)
    limit = width * math.sqrt(weight / (2.0 - weight))
    if abs(real("head_start", head_start)) > limit:
        msg = f"head_start must lie within the limits ({limit:g}), got {head_start}"
        raise ValueError(msg)

    def chain(count: int) -> tuple[float, float]:
        edges = np.linspace(-limit, limit, count + 1)
        middles = (edges[1:] + edges[:-1]) / 2.0

        def step(states: Floats) -> Floats:
            kept = (1.0 - weight) * states[:, None]
            reached = normal_cdf((edges - kept) / weight - shift)
            return np.diff(reached, axis=1).astype(np.float64)

        return 2.0 * limit / count, _average(step, middles, head_start)

    return _refined(chain, cells, refined=refined)


def _check_cells(cells: int) -> None:
    """Raise ValueError when there are too few or too many cells."""
    if whole_number("cells", cells, 2) > _MOST_CELLS:
        msg = f"cells must be at most {_MOST_CELLS}, got {cells}"
        raise ValueError(msg)


def _average(step: Callable[[Floats], Floats], middles: Floats, start: float) -> float:
    """Average run length from *start* over the cells that *middles* stand for."""
    try:
        lengths = np.linalg.solve(np.eye(len(middles)) - step(middles), np.ones(len(middles)))
    except np.linalg.LinAlgError:
        return math.inf
    return float(1.0 + step(np.array([start]))[0] @ lengths)


def _refined(chain: Callable[[int], tuple[float, float]], cells: int, *, refined: bool) -> float:
    """Average of one chain, or of infinitely narrow cells by three of them."""
    if not refined:
        return told(chain(cells)[1])
    found = np.array([chain(math.ceil(finer * cells)) for finer in _FINER])
    if not np.isfinite(found).all():
        return math.inf
    square = (found[:, 0] / found[0, 0]) ** 2
    terms = np.column_stack([np.ones(3), square, square**2])
    return told(float(np.linalg.solve(terms, found[:, 1])[0]))
