"""Charts of the time between one failure and the next, exponential or not."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import chance, real, whole_number
from weakstep.charts.frozen import constant_line
from weakstep.charts.model import Chart, Limits
from weakstep.charts.rare import THREE_SIGMA_CHANCE, signals_beyond
from weakstep.charts.row_checks import one_row
from weakstep.errors import NotEnoughError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

_LEAST_SHAPE, _MOST_SHAPE = 0.05, 100.0  # Weibull; beyond, no times are told apart
_LEAST_RATIO = 1e-3  # of mean times; less is no longer the same chart
_POWER = 0.2777  # 1 / 3.6 as Nelson rounds it; makes an exponential time nearly normal


def t_chart(
    time_between: ArrayLike,
    *,
    mean: float | None = None,
    shape: float = 1.0,
    failures: int = 1,
    false_alarm: float = THREE_SIGMA_CHANCE,
) -> Chart:
    r"""
    Chart of the time between one failure and the next, with probability limits.

    Exponential times of mean :math:`\theta` (the usual case) have limits at
    :math:`-\theta \ln(1 - \alpha/2)` and :math:`-\theta \ln(\alpha/2)`; the centre line is the
    median :math:`\theta \ln 2`. Times that are Weibull of shape :math:`\beta` have the same limits
    after raising to :math:`\beta`: :math:`\eta [-\ln(\alpha/2)]^{1/\beta}` and so on, with
    :math:`\eta^\beta` the mean of :math:`t^\beta`. Times up to every *r*-th failure are gamma of
    shape *r* (the t_r chart). A low point means failures came closer together.

    Parameters
    ----------
    time_between : array_like, shape (n_points,)
        In one unit, none negative; NaN is a gap.
    mean : float, optional
        Known mean time of a point; default estimated.
    shape : float, default 1
        Weibull shape, known, from 0.05 to 100; below 1 failures come in bursts, above 1 by wear.
    failures : int, default 1
        Failures from point to point; more than 1 only with a shape of 1.
    false_alarm : float
        :math:`\alpha`, chance of a stable point beyond either limit.

    Returns
    -------
    Chart
        `limits.sigma` is the standard deviation of a stable point.

    Raises
    ------
    ValueError
        A time is negative, or an argument is out of range.
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
    from scipy.special import gammainccinv, gammaincinv

    shown = one_row(time_between)
    known = shown[~np.isnan(shown)]
    if (known < 0).any():
        msg = f"time_between must not be negative, found {known.min():g}"
        raise ValueError(msg)
    if len(known) == 0 or known.max() == 0.0:
        msg = "A chart of time between failures needs at least one time above 0; there is none."
        raise NotEnoughError(msg)
    chance("false_alarm", false_alarm)
    power, count = (
        real("shape", shape, least=_LEAST_SHAPE, most=_MOST_SHAPE),
        whole_number("failures", failures, 1),
    )
    if count > 1 and power != 1.0:
        msg = f"failures above 1 need exponential times, so shape must be 1, got {shape}"
        raise ValueError(msg)
    unit = _moment(count, 1.0 / power)
    if mean is None:
        scale = float(np.mean(known**power) / count) ** (1.0 / power)
    else:
        scale = real("mean", mean, above=0.0) / unit
    half = false_alarm / 2.0
    lower, centre, upper = (
        scale * float(place) ** (1.0 / power)
        for place in (
            gammaincinv(count, half),
            gammaincinv(count, 0.5),
            gammainccinv(count, half),
        )
    )
    family = "exponential" if power == 1.0 else f"Weibull of shape {power:g}"
    return Chart(
        kind="t",
        values=shown,
        limits=Limits(
            centre=centre,
            lower=constant_line(lower, shown),
            upper=constant_line(upper, shown),
            sigma=scale * math.sqrt(_moment(count, 2.0 / power) - unit**2),
            sigma_from=(family if count == 1 else f"sum of {count} exponential times")
            + (", mean given" if mean is not None else ""),
            degrees_of_freedom=math.inf if mean is not None else float(len(known)),
        ),
        signals=signals_beyond(shown, lower, upper),
        false_alarm=float(1.0 - (1.0 - false_alarm) ** len(known)),
    )


def _moment(failures: int, power: float) -> float:
    """Mean of a power of the gamma variable of so many failures and scale 1."""
    return math.exp(math.lgamma(failures + power) - math.lgamma(failures))


def t_run_length(
    ratio: float = 1.0,
    *,
    shape: float = 1.0,
    failures: int = 1,
    false_alarm: float = THREE_SIGMA_CHANCE,
) -> float:
    r"""
    Average number of points until a t chart signals.

    The mean time has become *ratio* (:math:`r`) times that of the limits:
    :math:`1 / [1 - (1 - \alpha/2)^{r^{-\beta}} + (\alpha/2)^{r^{-\beta}}]`, or the same with the
    gamma distribution for more failures a point.

    Parameters
    ----------
    ratio : float
        From 0.001 to 1000; below 1 failures come more often.
    shape, failures
        As for `t_chart`.
    false_alarm : float
        :math:`\alpha` of the limits.

    Returns
    -------
    float
        In points.

    Raises
    ------
    ValueError
        An argument is out of range.

    References
    ----------
    As for `t_chart`.

    Examples
    --------
    >>> round(t_run_length(), 1), round(t_run_length(0.1), 1)
    (370.4, 74.5)
    """
    from scipy.special import gammainc, gammaincc, gammainccinv, gammaincinv

    change = real("ratio", ratio, least=_LEAST_RATIO, most=1.0 / _LEAST_RATIO) ** -real(
        "shape", shape, least=_LEAST_SHAPE, most=_MOST_SHAPE
    )
    half = chance("false_alarm", false_alarm) / 2.0
    count = whole_number("failures", failures, 1)
    if count > 1 and shape != 1.0:
        msg = f"failures above 1 need exponential times, so shape must be 1, got {shape}"
        raise ValueError(msg)
    lower, upper = float(gammaincinv(count, half)), float(gammainccinv(count, half))
    return float(1.0 / (gammainc(count, lower * change) + gammaincc(count, upper * change)))


def nearly_normal_times(time_between: ArrayLike, shape: float = 1.0) -> Floats:
    r"""
    Raise times to the power 0.2777 (about 1/3.6): nearly normal when the times are exponential.

    Times that are Weibull of shape :math:`\beta` are raised to :math:`0.2777 \beta`.

    Parameters
    ----------
    time_between : array_like, shape (n_points,)
        None negative; NaN is a gap.
    shape : float, default 1
        Weibull shape, known.

    Returns
    -------
    array, shape (n_points,)
        For an individuals chart.

    Raises
    ------
    ValueError
        A time is negative, or *shape* is out of range.

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
    return np.asarray(
        times ** (_POWER * real("shape", shape, least=_LEAST_SHAPE, most=_MOST_SHAPE)), dtype=float
    )
