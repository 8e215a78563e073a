"""Run lengths of CUSUM charts, by integral equations: see `weakstep.charts.cusum_chains`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.chain import told
from weakstep.charts.checks import real
from weakstep.charts.cusum_chains import (
    Both,
    Side,
    cusum_sides,
    either_side,
    first_signals,
    joined_average,
    settled_between,
)
from weakstep.charts.run_length_laws import RunLengthLaw, law_of, survivals_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def cusum_law(
    allowance: Both,
    decision: Both,
    shift: float = 0.0,
    *,
    head_start: Both = 0.0,
    two_sided: bool = True,
    steady_state: bool = False,
    shewhart_limit: float | None = None,
) -> RunLengthLaw:
    r"""
    Distribution of the run length of a tabular CUSUM of normal values.

    Parameters
    ----------
    allowance, decision : float or pair of float
        *k* and *h*, in sigmas; a pair is (up, down).
    shift : float, default 0
        Of the mean, in sigmas.
    head_start : float or pair of float, default 0
        Where the sums start, in sigmas; for two sides on average at most *h* / 2 + *k*.
    two_sided : bool, default True
        False: upward sums only.
    steady_state : bool, default False
        The shift comes long after the start, without a signal before on any side in use; two sides
        need an allowance for that.
    shewhart_limit : float, optional
        Limit for single values, in sigmas: the combined Shewhart-CUSUM chart, which also signals
        when a value lies beyond it (with one side, above it).

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
    J. M. Lucas and R. B. Crosier (1982), Fast initial response for CUSUM quality-control schemes,
    Technometrics 24, 199-205. J. M. Lucas (1982), Combined Shewhart-CUSUM quality control schemes,
    Journal of Quality Technology 14, 51-59.

    Examples
    --------
    >>> law = cusum_law(0.5, 5.0)
    >>> round(law.average, 2), law.quantile(0.5), round(law.survival(100), 4)
    (465.44, 325, 0.8148)
    >>> round(cusum_law(0.5, 5.0, 3.0, shewhart_limit=3.5).average, 2)
    2.17
    """
    sides = cusum_sides(allowance, decision, head_start, shewhart_limit, two_sided=two_sided)
    real("shift", shift)
    if steady_state and any(side.head_start for side in sides):
        msg = "a chart that has run for long has no head start: leave head_start out"
        raise ValueError(msg)
    if not two_sided:
        chain = sides[0].chain
        if steady_state:
            return chain.steady_law(shift)
        return chain.law(sides[0].head_start, shift)
    ways = (shift, -shift)
    chains = (sides[0].chain, sides[1].chain)
    if steady_state:
        starts = settled_between(chains)
        up, down = (
            first_signals(chain.survivals(start, way), before=True)
            for chain, start, way in zip(chains, starts, ways, strict=True)
        )
        lengths = [chain.run_lengths(way) for chain, way in zip(chains, ways, strict=True)]
        average = joined_average(
            [
                float(start @ length) if np.isfinite(length[0]) else np.inf
                for start, length in zip(starts, lengths, strict=True)
            ],
            [float(length[0]) for length in lengths],
        )
    else:
        up, down = _alone(sides, ways)
        average = _average(sides, ways)
    return law_of(either_side((up, down), _anew(sides, ways)), average)


def _alone(sides: tuple[Side, ...], ways: tuple[float, float]) -> list[Iterator[float]]:
    """Chances of the first signal of each side by itself, from its head start."""
    return [
        first_signals(side.chain.survivals_from(side.head_start, way))
        for side, way in zip(sides, ways, strict=True)
    ]


def _anew(
    sides: tuple[Side, ...], ways: tuple[float, float]
) -> tuple[Iterator[float], Iterator[float]]:
    """Chances of the first signal of each side by itself, from 0."""
    up, down = (
        first_signals(side.chain.survivals_from(0.0, way))
        for side, way in zip(sides, ways, strict=True)
    )
    return up, down


def _average(sides: tuple[Side, ...], ways: tuple[float, float]) -> float:
    """Average run length of both sides from their head starts."""
    both = list(zip(sides, ways, strict=True))
    return joined_average(
        [side.chain.run_length_from(side.head_start, way) for side, way in both],
        [side.chain.run_length_from(0.0, way) for side, way in both],
    )


def cusum_run_length(
    allowance: Both,
    decision: Both,
    shift: float = 0.0,
    *,
    head_start: Both = 0.0,
    two_sided: bool = True,
    steady_state: bool = False,
    shewhart_limit: float | None = None,
) -> float:
    r"""
    Average run length of a tabular CUSUM of normal values: the average of `cusum_law`.

    Two sides join as :math:`1/A = 1/A^+ + 1/A^-`; with a head start *s*, as
    :math:`A = [A^+_s A^-_0 + A^-_s A^+_0 - A^+_0 A^-_0] / (A^+_0 + A^-_0)` (Lucas and Crosier
    1982).

    Parameters
    ----------
    allowance, decision, shift, head_start, two_sided, steady_state, shewhart_limit
        As for `cusum_law`.

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
    >>> round(cusum_run_length(0.5, 4.0), 2), round(cusum_run_length(0.5, 5.0, 1.0), 2)
    (167.68, 10.38)
    >>> round(cusum_run_length((0.5, 0.25), (4.0, 8.0), 1.0), 2)
    8.38
    """
    sides = cusum_sides(allowance, decision, head_start, shewhart_limit, two_sided=two_sided)
    if steady_state:
        law = cusum_law(
            allowance,
            decision,
            shift,
            head_start=head_start,
            two_sided=two_sided,
            steady_state=True,
            shewhart_limit=shewhart_limit,
        )
        return law.average
    real("shift", shift)
    if not two_sided:
        return told(sides[0].chain.run_length_from(sides[0].head_start, shift))
    return _average(sides, (shift, -shift))


def cusum_survival(
    n_points: int,
    allowance: Both,
    decision: Both,
    shift: float = 0.0,
    *,
    head_start: Both = 0.0,
    two_sided: bool = False,
    shewhart_limit: float | None = None,
) -> Floats:
    """
    Chance that a CUSUM has not signalled by each point; shape (n_points,).

    Parameters
    ----------
    n_points : int
    allowance, decision, shift, head_start, shewhart_limit
        As for `cusum_law`.
    two_sided : bool, default False
        False: upward sums only; True: on neither side, exactly for sides alike, else as
        `weakstep.charts.cusum_chains` tells.

    Returns
    -------
    array, shape (n_points,)

    Raises
    ------
    ValueError
        An argument is out of range.

    Examples
    --------
    >>> float(cusum_survival(1, 0.5, 2.5)[0].round(6))
    0.99865
    >>> float(cusum_survival(1, 0.5, 2.5, two_sided=True)[0].round(6))
    0.9973
    """
    sides = cusum_sides(allowance, decision, head_start, shewhart_limit, two_sided=two_sided)
    real("shift", shift)
    if not two_sided:
        return sides[0].chain.survival(n_points, sides[0].head_start, shift)
    ways = (shift, -shift)
    up, down = _alone(sides, ways)
    either = either_side((up, down), _anew(sides, ways))
    return survivals_of(either, n_points)
