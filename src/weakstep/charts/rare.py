"""Charts of rare failures: good items, or time, between one failure and the next."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np

from weakstep.charts.checks import chance, one_row
from weakstep.charts.frozen import constant_line
from weakstep.charts.model import Chart, Limits
from weakstep.charts.patterns import find_signals
from weakstep.errors import NotEnoughError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from weakstep.charts.model import Signal

    Floats = NDArray[np.float64]

THREE_SIGMA_CHANCE = 0.0026997960632601866  # of a normal value beyond 3 sigma
_POWER = 0.2777  # 1 / 3.6 as Nelson rounds it; makes an exponential time nearly normal


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
    known = shown[~np.isnan(shown)]
    if (known < 0).any() or (known != np.floor(known)).any():
        msg = "good_between must hold whole counts, none negative"
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
        signals=_signals(shown, lower, upper),
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

    Examples
    --------
    >>> geometric_limits(0.01, 0.0027)
    (0.0, 657.0)
    """
    half = false_alarm / 2.0
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

    Examples
    --------
    >>> round(1 / g_signal_chance(0.01, 0.0, 397.496), 2)
    54.6
    """
    good = 1.0 - chance("share", share)
    below = 1.0 - good ** math.ceil(lower - 1e-9)
    above = good ** (math.floor(upper + 1e-9) + 1)
    return float(below + above)


def t_chart(
    time_between: ArrayLike, *, mean: float | None = None, false_alarm: float = THREE_SIGMA_CHANCE
) -> Chart:
    r"""
    Chart of the time between one failure and the next, with exponential probability limits.

    With mean time :math:`\theta`, limits lie at :math:`-\theta \ln(1 - \alpha/2)` and
    :math:`-\theta \ln(\alpha/2)`; the centre line is the median :math:`\theta \ln 2`. A low point
    means failures came closer together.

    Parameters
    ----------
    time_between : array_like, shape (n_points,)
        In one unit, none negative; NaN is a gap.
    mean : float, optional
        Known mean time; default that of the values.
    false_alarm : float
        :math:`\alpha`, chance of a stable point beyond either limit.

    Returns
    -------
    Chart

    Raises
    ------
    ValueError
        A time is negative, *mean* is not above 0, or *false_alarm* not between 0 and 1.
    NotEnoughError
        No time above 0 is logged.

    References
    ----------
    M. Xie, T. N. Goh and P. Ranjan (2002), Some effective control chart procedures for
    reliability monitoring, Reliability Engineering and System Safety 77, 143-150.

    Examples
    --------
    >>> chart = t_chart([90.0, 110.0], false_alarm=0.0027)
    >>> round(float(chart.limits.lower[0]), 4), round(float(chart.limits.upper[0]), 3)
    (0.1351, 660.765)
    """
    shown = one_row(time_between)
    known = shown[~np.isnan(shown)]
    if (known < 0).any():
        msg = f"time_between must not be negative, found {known.min():g}"
        raise ValueError(msg)
    if len(known) == 0 or known.max() == 0.0:
        msg = "A chart of time between failures needs at least one time above 0; there is none."
        raise NotEnoughError(msg)
    chance("false_alarm", false_alarm)
    theta = float(known.mean()) if mean is None else float(mean)
    if not theta > 0.0:
        msg = f"mean must be above 0, got {mean}"
        raise ValueError(msg)
    lower = -theta * math.log1p(-false_alarm / 2.0)
    upper = -theta * math.log(false_alarm / 2.0)
    return Chart(
        kind="t",
        values=shown,
        limits=Limits(
            centre=theta * math.log(2.0),
            lower=constant_line(lower, shown),
            upper=constant_line(upper, shown),
            sigma=theta,
            sigma_from="exponential" + (", mean given" if mean is not None else ""),
            degrees_of_freedom=math.inf if mean is not None else float(len(known)),
        ),
        signals=_signals(shown, lower, upper),
        false_alarm=float(1.0 - (1.0 - false_alarm) ** len(known)),
    )


def t_run_length(ratio: float = 1.0, *, false_alarm: float = THREE_SIGMA_CHANCE) -> float:
    r"""
    Average number of failures until a t chart signals.

    The mean time has become *ratio* times that of the limits:
    :math:`1 / [1 - (1 - \alpha/2)^{1/r} + (\alpha/2)^{1/r}]`.

    Parameters
    ----------
    ratio : float
        Above 0; below 1 failures come more often.
    false_alarm : float
        :math:`\alpha` of the limits.

    Examples
    --------
    >>> round(t_run_length(), 1), round(t_run_length(0.1), 1)
    (370.4, 74.5)
    """
    if not ratio > 0.0:
        msg = f"ratio must be above 0, got {ratio}"
        raise ValueError(msg)
    half = chance("false_alarm", false_alarm) / 2.0
    below = -math.expm1(math.log1p(-half) / ratio)
    return float(1.0 / (below + half ** (1.0 / ratio)))


def nearly_normal_times(time_between: ArrayLike) -> Floats:
    r"""
    Raise times to the power 0.2777 (about 1/3.6): nearly normal when the times are exponential.

    Parameters
    ----------
    time_between : array_like, shape (n_points,)
        None negative.

    Returns
    -------
    array, shape (n_points,)
        For an individuals chart.

    References
    ----------
    L. S. Nelson (1994), A control chart for parts-per-million nonconforming items, Journal of
    Quality Technology 26, 239-240.

    Examples
    --------
    >>> nearly_normal_times([286.0]).round(3).tolist()
    [4.81]
    """
    times = one_row(time_between)
    if (times < 0).any():
        msg = f"time_between must not be negative, found {np.nanmin(times):g}"
        raise ValueError(msg)
    return np.asarray(times**_POWER, dtype=float)


def _signals(shown: Floats, lower: float, upper: float) -> tuple[Signal, ...]:
    """Points strictly beyond the limits, as signals."""
    z = np.where(shown > upper, 4.0, np.where(shown < lower, -4.0, 0.0))
    return find_signals(np.where(np.isnan(shown), np.nan, z), ("beyond_limit",))
