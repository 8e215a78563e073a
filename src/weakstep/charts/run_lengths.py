"""
How long a stable or shifted process runs until a chart signals: exact Markov chains.

A point only enters through the cell between lines it falls in (beyond 3 sigma, between 2 and 3,
...), so what the patterns remember of the past is one of finitely many states. The approach is that
of C. W. Champ and W. H. Woodall (1987), Exact results for Shewhart control charts with
supplementary runs rules, Technometrics 29, 393-399; here the states are found by walking from the
start. Patterns of steps (steadily rising, up and down in turn) look at the last value too: see
`weakstep.charts.ordered_chain`, which these functions use where such a pattern is among the names.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import numbers, whole_number
from weakstep.charts.normal import normal_cdf
from weakstep.charts.ordered_chain import OrderedChain, node_places
from weakstep.charts.pattern_shapes import CountPattern, Pattern, SequencePattern
from weakstep.charts.patterns import DEFAULT_PATTERNS, patterns_of
from weakstep.charts.run_length_laws import RunLengthLaw, law_of, survivals_of
from weakstep.charts.zone_chain import USUAL_LINES, cell_chances, lines_of, machine
from weakstep.charts.zone_moves import average_from, settled_law, survivals_from, zone_moves

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

_ROUNDING = 1e-6  # of chances that add up to 1


def zone_probabilities(shift: float = 0.0, spread: float = 1.0) -> Floats:
    """
    Chance of each zone of the chart for a normal value whose mean is off by *shift* sigmas.

    Parameters
    ----------
    shift : float
        Of the mean, in sigmas.
    spread : float
        Standard deviation, in sigmas of the stable process.

    Returns
    -------
    array, shape (9,)
        Below -3, -3 to -2, -2 to -1, -1 to 0, on the centre line (0 here), and the same upwards.

    Raises
    ------
    ValueError
        *shift* is not finite, or *spread* not above 0.

    Examples
    --------
    >>> zone_probabilities().round(4).tolist()
    [0.0013, 0.0214, 0.1359, 0.3413, 0.0, 0.3413, 0.1359, 0.0214, 0.0013]
    """
    return cell_chances(USUAL_LINES, shift, spread)


def _sorted_out(
    names: Sequence[str | Pattern],
) -> tuple[tuple[CountPattern, ...], tuple[SequencePattern, ...]]:
    """Patterns of zones, and patterns of steps."""
    shapes = patterns_of(names)
    if not shapes:
        msg = "give at least one pattern; a chart without any never signals"
        raise ValueError(msg)
    return (
        tuple(shape for shape in shapes if isinstance(shape, CountPattern)),
        tuple(shape for shape in shapes if isinstance(shape, SequencePattern)),
    )


def survival(
    n_points: int,
    names: Sequence[str | Pattern] = DEFAULT_PATTERNS,
    zones: ArrayLike | None = None,
) -> Floats:
    """
    Chance that no signal has come by each point.

    Parameters
    ----------
    n_points : int
        Points on the chart, one per run.
    names : sequence of str or pattern
        Patterns in use: keys of `weakstep.charts.patterns.PATTERNS`, or patterns of one's own.
    zones : array_like, shape (n_zones,) or (n_points, n_zones), optional
        Chance of each zone, for all points or point by point; default: a stable normal process.
        The zones are the nine of `zone_probabilities`, or lie between the lines of one's own
        patterns. With patterns of steps, one row of chances for all points.

    Returns
    -------
    array, shape (n_points,)

    Raises
    ------
    ValueError
        A name is unknown, or *zones* has another shape.

    Examples
    --------
    >>> survival(2, ["beyond_limit"]).round(6).tolist()
    [0.9973, 0.994608]
    """
    whole_number("n_points", n_points, 0)
    counted, stepped = _sorted_out(names)
    table = machine(counted)
    chances = cell_chances(lines_of(counted)) if zones is None else _zones(zones)
    if stepped:
        chain = OrderedChain.build(table, stepped, chances)
        memory = max([s.window for s in counted] + [s.window for s in stepped])
        return survivals_of(chain.survivals(chain.first()), n_points, memory=memory)
    if chances.shape not in ((table.shape[1],), (n_points, table.shape[1])):
        msg = (
            f"zones must be {table.shape[1]} chances, or a row of so many for each of {n_points} "
            f"points, got shape {chances.shape}"
        )
        raise ValueError(msg)
    if chances.ndim == 1:
        start = np.eye(1, len(table))[0]
        memory = max(shape.window for shape in counted)
        by_point = survivals_from(zone_moves(table, chances), start)
        return survivals_of(by_point, n_points, memory=memory)
    alive = np.zeros(len(table) + 1)
    alive[0] = 1.0
    left = np.empty(n_points)
    for point, chance in enumerate(chances):
        # The last place collects what has signalled; index -1 of the table points at it.
        moved = np.bincount(
            (table % len(alive)).ravel(),
            weights=(alive[:-1, None] * chance).ravel(),
            minlength=len(alive),
        )
        moved[-1] = 0.0
        alive = moved.astype(float)
        left[point] = alive.sum()
    return left


def _zones(zones: ArrayLike) -> Floats:
    """Return chances of the zones; raise when they are none."""
    chances = numbers("zones", zones)
    sums = chances.sum(axis=-1) if chances.ndim else chances
    if not ((chances >= 0.0).all() and (np.abs(sums - 1.0) < _ROUNDING).all()):
        msg = "zones must be chances, none negative, that add up to 1 for each point"
        raise ValueError(msg)
    return chances


def run_length_law(
    names: Sequence[str | Pattern] = DEFAULT_PATTERNS,
    shift: float = 0.0,
    spread: float = 1.0,
    *,
    steady_state: bool = False,
) -> RunLengthLaw:
    r"""
    Distribution of the number of points until the first signal of a combination of patterns.

    The average solves :math:`(I - Q) a = 1` for the chain *Q* of the states without signal; with
    patterns of steps it is the sum of the chances of no signal.

    Parameters
    ----------
    names : sequence of str or pattern
        Patterns in use, of any kind.
    shift : float
        How far the mean is off, in sigmas.
    spread : float
        Standard deviation, in sigmas of the stable process.
    steady_state : bool, default False
        Shift and spread change long after the start, on a chart that has not signalled since;
        False: at the start (zero state).

    Returns
    -------
    RunLengthLaw
        Average, standard deviation, quantiles and survival, in points after the change.

    Raises
    ------
    ValueError
        A name is unknown, there is none, or *shift* or *spread* is out of range.

    References
    ----------
    C. W. Champ and W. H. Woodall (1987), as above. Steady state: C. W. Champ (1992), Steady-state
    run length analysis of a Shewhart quality control chart with supplementary runs rules,
    Communications in Statistics - Theory and Methods 21, 765-777.

    Examples
    --------
    >>> law = run_length_law(["beyond_limit"])
    >>> round(law.average, 2), round(law.sd, 2), law.quantile(0.5), law.quantile(0.1)
    (370.4, 369.9, 257, 39)
    """
    counted, stepped = _sorted_out(names)
    table, lines = machine(counted), lines_of(counted)
    chances, stable = cell_chances(lines, shift, spread), cell_chances(lines)
    windows = [shape.window for shape in counted] + [shape.window for shape in stepped]
    if stepped:
        chain = OrderedChain.build(table, stepped, chances)
        if not steady_state:
            return law_of(chain.survivals(chain.first()), memory=max(windows))
        places = _stable_places(lines, shift, spread, chain.nodes)
        before = OrderedChain.build(table, stepped, stable)
        return law_of(chain.survivals(chain.after(before, places)), memory=max(windows))
    moves = zone_moves(table, chances)
    start = settled_law(zone_moves(table, stable)) if steady_state else np.eye(1, len(table))[0]
    return law_of(survivals_from(moves, start), average_from(moves, start), memory=max(windows))


def average_run_length(
    names: Sequence[str | Pattern] = DEFAULT_PATTERNS,
    shift: float = 0.0,
    spread: float = 1.0,
    *,
    steady_state: bool = False,
) -> float:
    """
    Average number of points until the first signal: `run_length_law(...).average`.

    Parameters
    ----------
    names, shift, spread, steady_state
        As for `run_length_law`.

    Returns
    -------
    float
        In points; infinite where it is beyond 1e12.

    Raises
    ------
    ValueError
        As for `run_length_law`.

    References
    ----------
    As for `run_length_law`.

    Examples
    --------
    >>> round(average_run_length(["beyond_limit"]), 2)
    370.4
    """
    counted, stepped = _sorted_out(names)
    if stepped or steady_state:
        return run_length_law(names, shift, spread, steady_state=steady_state).average
    table = machine(counted)
    moves = zone_moves(table, cell_chances(lines_of(counted), shift, spread))
    return average_from(moves, np.eye(1, len(table))[0])


def _stable_places(lines: tuple[float, ...], shift: float, spread: float, nodes: int) -> Floats:
    """
    Where nodes in each cell of a changed process lie in that cell of a stable one.

    Both as shares of the chance of the cell that lie below; shape (n_cells, n_nodes).
    """
    from scipy.special import ndtri

    now, then = cell_chances(lines, shift, spread), cell_chances(lines)
    low_now, low_then = np.cumsum(now) - now, np.cumsum(then) - then
    z = shift + spread * ndtri(low_now[:, None] + now[:, None] * node_places(nodes))
    share = (normal_cdf(z) - low_then[:, None]) / np.where(then > 0.0, then, 1.0)[:, None]
    return np.clip(share, 0.0, 1.0)
