"""Run lengths of charts of counts (p, np, c, u): exact, in and out of control."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.attributes import check_zone_patterns
from weakstep.charts.checks import chance, real, whole_number
from weakstep.charts.count_zones import binomial_zones, poisson_zones
from weakstep.charts.looks import Look
from weakstep.charts.pattern_shapes import Pattern
from weakstep.charts.run_length_laws import RunLengthLaw, law_of
from weakstep.charts.run_lengths import survival
from weakstep.charts.zone_chain import lines_for

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_ONLY_LIMITS = ("beyond_limit",)
_BLOCK = 256  # points asked for at a time


def share_law(
    tested: int,
    share: float,
    now: float | None = None,
    names: Sequence[str | Pattern] = _ONLY_LIMITS,
) -> RunLengthLaw:
    r"""
    Distribution of the run length of a p or np chart with limits at three sigmas.

    Parameters
    ----------
    tested : int
        Items in every point.
    share : float
        Share of failures that the limits come from.
    now : float, optional
        True share of failures since the start; default *share*.
    names : sequence of str or pattern
        Patterns in use, of zones; points of counts may lie on a line and are then not beyond it.

    Returns
    -------
    RunLengthLaw
        In points.

    Raises
    ------
    ValueError
        *share* does not lie between 0 and 1 or *now* from 0 to 1, *tested* is below 1, or a pattern
        is one of steps.

    Examples
    --------
    >>> round(1 / share_law(50, 0.2, 0.3).average, 4)
    0.1406
    """
    tested = whole_number("tested", tested, 1)
    chance("share", share)
    true = share if now is None else real("now", now, least=0.0, most=1.0)
    return _law(binomial_zones([tested], share, true, lines_for(names))[0], names)


def fault_law(
    mean: float, now: float | None = None, names: Sequence[str | Pattern] = _ONLY_LIMITS
) -> RunLengthLaw:
    r"""
    Distribution of the run length of a c or u chart with limits at three sigmas.

    Parameters
    ----------
    mean : float
        Faults of a point that the limits come from.
    now : float, optional
        True mean since the start; default *mean*.
    names : sequence of str or pattern
        As for `share_law`.

    Returns
    -------
    RunLengthLaw
        In points.

    Raises
    ------
    ValueError
        A mean is not above 0, or a pattern is one of steps.

    Examples
    --------
    >>> round(fault_law(16.0).average, 1)
    438.3
    """
    real("mean", mean, above=0.0)
    true = mean if now is None else real("now", now, above=0.0)
    return _law(poisson_zones([mean], [true], lines_for(names))[0], names)


def _law(zones: Floats, names: Sequence[str | Pattern]) -> RunLengthLaw:
    """Law of the run length when every point has these chances of lying in each zone."""
    look = Look.of(names)
    check_zone_patterns(look)
    memory = max((one.window for one in look.patterns), default=1)
    return law_of(_chances(zones, names), memory=memory)


def _chances(zones: Floats, names: Sequence[str | Pattern]) -> Iterator[float]:
    done, size = 0, _BLOCK
    while True:
        yield from survival(size, names, zones)[done:].tolist()
        done, size = size, 2 * size
