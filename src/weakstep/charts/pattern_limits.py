"""Width of the limits that a combination of patterns needs for a stated chance of false alarm."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from weakstep.charts.pattern_shapes import Pattern
from weakstep.charts.patterns import DEFAULT_PATTERNS
from weakstep.charts.run_lengths import average_run_length, run_length_law
from weakstep.charts.set_limits import FAR, goal_of
from weakstep.charts.zone_chain import USUAL_WIDTH

_SCANNED = np.geomspace(0.25, 2.5, 11)  # times the usual width: where a crossing is looked for


def pattern_width(
    names: Sequence[str | Pattern] = DEFAULT_PATTERNS,
    *,
    run_length: float | None = None,
    family_wise: float | None = None,
    n_points: int = 1,
    n_charts: int = 1,
) -> float:
    r"""
    Width of the limits of a chart with several patterns, in sigmas.

    All lines of the patterns move together: with a width of *L* the lines at 1, 2 and 3 sigma stand
    at :math:`L/3, 2L/3` and *L*. Rows on one side and steps up or down do not depend on the width;
    what they signal by themselves is the least that can be asked. For ``["beyond_limit"]`` this is
    `shewhart_width`.

    Parameters
    ----------
    names : sequence of str or pattern
        Patterns in use, of any kind.
    run_length : float, optional
        Average run length of a stable chart, in points; above 1.
    family_wise : float, optional
        Chance of any false alarm; give one of the two.
    n_points, n_charts : int
        Points a chart, and independent charts, for *family_wise*.

    Returns
    -------
    float
        The least width that gives what is asked; 3 is the usual one. To look for signals with it,
        scale the distances: ``find_signals(z * 3 / width, names)``.

    Raises
    ------
    ValueError
        An argument is out of range, or no width gives what is asked; the message tells the best.

    References
    ----------
    C. W. Champ and W. H. Woodall (1987), Exact results for Shewhart control charts with
    supplementary runs rules, Technometrics 29, 393-399 (the run lengths).

    Examples
    --------
    >>> round(pattern_width(["beyond_limit"], run_length=370.4), 3)
    3.0
    >>> round(pattern_width(["beyond_limit", "two_of_three"], run_length=370.4), 3)
    3.155
    """
    wanted, each = goal_of(run_length, family_wise, n_points, n_charts)
    if family_wise is None:

        def found(factor: float) -> float:
            return min(average_run_length(names, spread=1.0 / factor), FAR * wanted)

        goal, told = wanted, "an average run length of {:.4g} points"
    else:

        def found(factor: float) -> float:
            return run_length_law(names, spread=1.0 / factor).survival(n_points)

        goal, told = 1.0 - each, "a chance of no alarm of {:.4g} on each chart"
    return USUAL_WIDTH * _least_factor(found, goal, told)


def _least_factor(found: Callable[[float], float], goal: float, told: str) -> float:
    """Smallest factor at which *found* reaches *goal*."""
    from scipy.optimize import brentq

    best = -math.inf
    before = None
    for factor in _SCANNED.tolist():
        here = found(factor)
        if here >= goal:
            if before is None:
                break
            return float(brentq(lambda one: found(one) - goal, before, factor, xtol=1e-8))
        best, before = max(best, here), factor
    if before is None:
        msg = "even very narrow limits signal more seldom: ask for a shorter run length"
        raise ValueError(msg)
    msg = f"no width of these patterns gives that: the best of any is {told.format(best)}"
    raise ValueError(msg)
