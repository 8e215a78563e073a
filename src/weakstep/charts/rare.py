"""Charts of rare failures: good items between one failed item and the next."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np

from weakstep.charts.checks import chance, real, whole_counts
from weakstep.charts.frozen import constant_line
from weakstep.charts.model import Chart, Limits
from weakstep.charts.patterns import find_signals
from weakstep.charts.row_checks import one_row
from weakstep.errors import NotEnoughError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from weakstep.charts.model import Signal

    Floats = NDArray[np.float64]

THREE_SIGMA_CHANCE = 0.0026997960632601866  # of a normal value beyond 3 sigma
LEAST_CHANCE = 1e-15  # of a false alarm, where quantiles are computed; less has lost its digits


def g_chart(
    good_between: ArrayLike,
    *,
    share: float | None = None,
    false_alarm: float = THREE_SIGMA_CHANCE,
    limits: Literal["probability", "three sigma"] = "probability",
) -> Chart:
    r"""
    Chart of the number of good items between one failed item and the next.

    With failures of share *p* the number is geometric from 0. Probability limits are the largest
    *a* with :math:`P(G < a) \le \alpha/2` and the smallest *b* with :math:`P(G > b) \le \alpha/2`;
    a point on a limit is not beyond it. Three-sigma limits are
    :math:`\bar g \pm 3\sqrt{\bar g (\bar g + 1)}`, cut at 0. A low point means failures came
    closer together.

    Parameters
    ----------
    good_between : array_like of int, shape (n_points,)
        Good items before each failed one since the last; NaN is a gap.
    share : float, optional
        Known share of failures; default :math:`1 / (1 + \bar g)`.
    false_alarm : float
        :math:`\alpha`, chance of a point beyond either limit at most.
    limits : {"probability", "three sigma"}

    Returns
    -------
    Chart
        `limits.centre` is the median (probability limits) or the mean (three sigma).

    Raises
    ------
    ValueError
        Numbers are not whole or negative, or *share* or *false_alarm* is not between 0 and 1.
    NotEnoughError
        No point is logged, or every item failed.

    References
    ----------
    J. C. Benneyan (2001), Number-between g-type statistical quality control charts for monitoring
    adverse events, Health Care Management Science 4, 305-318.

    Examples
    --------
    >>> chart = g_chart([90, 120, 60, 126], share=0.01, limits="three sigma")
    >>> round(chart.limits.centre, 2), round(float(chart.limits.upper[0]), 1)
    (99.0, 397.5)
    """
    shown = one_row(good_between)
    known = whole_counts("good_between", shown[~np.isnan(shown)])
    if limits not in ("probability", "three sigma"):
        msg = f"limits must be 'probability' or 'three sigma', got {limits!r}"
        raise ValueError(msg)
    if len(known) == 0 or (share is None and known.sum() == 0):
        msg = "A chart of good items between failures needs at least one good item between two."
        raise NotEnoughError(msg)
    chance("false_alarm", false_alarm)
    p = 1.0 / (1.0 + float(known.mean())) if share is None else chance("share", share)
    mean, spread = (1.0 - p) / p, math.sqrt(1.0 - p) / p
    if limits == "probability":
        lower, upper = geometric_limits(p, false_alarm)
        centre = float(geometric_quantile(0.5, p))
    else:
        lower, upper, centre = max(0.0, mean - 3 * spread), mean + 3 * spread, mean
    beyond = g_signal_chance(p, lower, upper)
    return Chart(
        kind="g",
        values=shown,
        limits=Limits(
            centre=centre,
            lower=constant_line(lower, shown),
            upper=constant_line(upper, shown),
            sigma=spread,
            sigma_from="geometric" + (", share of failures given" if share is not None else ""),
            degrees_of_freedom=math.inf if share is not None else float(len(known)),
        ),
        signals=signals_beyond(shown, lower, upper),
        false_alarm=float(1.0 - (1.0 - beyond) ** len(known)),
    )


def geometric_quantile(level: float, share: float) -> int:
    """
    Smallest number of good items that is reached with a chance of at least *level*.

    Examples
    --------
    >>> geometric_quantile(0.5, 0.01)
    68
    """
    chance("level", level)
    chance("share", share)
    return max(0, math.ceil(math.log1p(-level) / math.log1p(-share) - 1e-12) - 1)


def geometric_limits(share: float, false_alarm: float) -> tuple[float, float]:
    r"""
    Limits of a geometric number, at most half of *false_alarm* beyond each.

    Parameters
    ----------
    share : float
        Of failures.
    false_alarm : float
        Both sides together.

    Returns
    -------
    lower, upper : float
        In good items.

    Raises
    ------
    ValueError
        *share* or *false_alarm* does not lie between 0 and 1.

    Examples
    --------
    >>> geometric_limits(0.01, 0.0027)
    (0.0, 657.0)
    """
    half = chance("false_alarm", false_alarm) / 2.0
    chance("share", share)
    # P(G < a) = 1 - q^a <= half
    lower = math.floor(math.log1p(-half) / math.log1p(-share) + 1e-12)
    return float(lower), float(geometric_quantile(1.0 - half, share))


def g_signal_chance(share: float, lower: float, upper: float) -> float:
    """
    Chance that a point of a g chart lies beyond its limits; its inverse is the run length.

    Parameters
    ----------
    share : float
        Of failures, now.
    lower, upper : float
        Limits, in items; a point on a limit is not beyond it.

    Returns
    -------
    float
        Between 0 and 1.

    Raises
    ------
    ValueError
        *share* does not lie between 0 and 1, or a limit is not finite.

    Examples
    --------
    >>> round(1 / g_signal_chance(0.01, 0.0, 397.496), 2)
    54.6
    """
    good = 1.0 - chance("share", share)
    real("lower", lower)
    real("upper", upper)
    below = 1.0 - good ** max(0, math.ceil(lower - 1e-9))
    above = good ** max(0, math.floor(upper + 1e-9) + 1)
    return float(below + above)


def signals_beyond(
    shown: Floats, lower: float | Floats, upper: float | Floats
) -> tuple[Signal, ...]:
    """Points strictly beyond the limits (one for all, or one for each), as signals."""
    z = np.where(shown > upper, 4.0, np.where(shown < lower, -4.0, 0.0))
    return find_signals(np.where(np.isnan(shown), np.nan, z), ("beyond_limit",))
