"""Charts of items until the next failures: cumulative counts and totals of several counts."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np

from weakstep.charts.checks import chance, real, whole_counts, whole_number
from weakstep.charts.frozen import constant_line
from weakstep.charts.model import Chart, Limits
from weakstep.charts.rare import LEAST_CHANCE, THREE_SIGMA_CHANCE, signals_beyond
from weakstep.charts.row_checks import one_row
from weakstep.errors import NotEnoughError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

_LEAST_SHARE = 1e-12  # of failures; with fewer the items until one are no longer counted


def ccc_chart(
    items_until: ArrayLike,
    *,
    share: float | None = None,
    failures: int = 1,
    false_alarm: float = THREE_SIGMA_CHANCE,
) -> Chart:
    r"""
    Chart of the cumulative count of conforming items, up to and with the next failed one.

    With failures of share *p* limits lie at :math:`\ln(1 - \alpha/2) / \ln(1 - p)` and
    :math:`\ln(\alpha/2) / \ln(1 - p)` and the centre line at :math:`\ln 0.5 / \ln(1 - p)`. For
    items up to every *r*-th failure (the CCC-r chart) the count is negative binomial, and the
    limits are the largest *a* with :math:`P(X < a) \le \alpha/2` and the smallest *b* with
    :math:`P(X > b) \le \alpha/2`. A low point means failures came closer together.

    Parameters
    ----------
    items_until : array_like of int, shape (n_points,)
        Items from one failure to the next, the failed one counted: at least *failures*; NaN is a
        gap. One less each is what `g_chart` takes.
    share : float, optional
        Known share of failures; default *failures* over the mean count.
    failures : int, default 1
        *r*, failures from point to point.
    false_alarm : float
        :math:`\alpha`, chance of a point beyond either limit, nearly.

    Returns
    -------
    Chart
        `limits.centre` is the median, `limits.sigma` the standard deviation of a stable count.
        `false_alarm` is exact, a count being whole.

    Raises
    ------
    ValueError
        Counts are not whole or below *failures*, or an argument is out of range.
    NotEnoughError
        No point is logged, or every item failed.

    References
    ----------
    T. W. Calvin (1983), Quality control techniques for zero defects, IEEE Transactions on
    Components, Hybrids and Manufacturing Technology 6, 323-328. M. Xie, T. N. Goh and V. Kuralmani
    (2002), Statistical Models and Control Charts for High-Quality Processes, Kluwer.

    Examples
    --------
    >>> chart = ccc_chart([1200, 3000], share=0.0005, false_alarm=0.0027)
    >>> round(chart.limits.centre), round(float(chart.limits.upper[0]))
    (1386, 13212)
    """
    shown = one_row(items_until)
    known = whole_counts("items_until", shown[~np.isnan(shown)])
    count = whole_number("failures", failures, 1)
    if (known < count).any():
        msg = (
            f"items_until must count the failed items too, so at least {count}, found "
            f"{known.min():g}"
        )
        raise ValueError(msg)
    half = real("false_alarm", chance("false_alarm", false_alarm), least=LEAST_CHANCE) / 2.0
    p = _share_of(known, count, share)
    if count == 1:
        good = math.log1p(-p)
        lower, centre, upper = math.log1p(-half) / good, math.log(0.5) / good, math.log(half) / good
    else:
        lower, centre, upper = _total_limits(p, count, half)
        lower, centre, upper = lower + count, centre + count, upper + count
    beyond = _beyond(p, count, lower - count, upper - count)
    return Chart(
        kind="CCC" if count == 1 else f"CCC-{count}",
        values=shown,
        limits=Limits(
            centre=float(centre),
            lower=constant_line(lower, shown),
            upper=constant_line(upper, shown),
            sigma=math.sqrt(count * (1.0 - p)) / p,
            sigma_from=_told("negative binomial" if count > 1 else "geometric", share),
            degrees_of_freedom=math.inf if share is not None else float(len(known) * count),
        ),
        signals=signals_beyond(shown, lower, upper),
        false_alarm=float(1.0 - (1.0 - beyond) ** len(known)),
    )


def geometric_total_chart(
    totals: ArrayLike,
    n_counts: int,
    *,
    share: float | None = None,
    average: bool = False,
    limits: Literal["three sigma", "probability"] = "three sigma",
    false_alarm: float = THREE_SIGMA_CHANCE,
) -> Chart:
    r"""
    Chart of totals of geometric counts in subgroups (g chart), or of their averages (h chart).

    Each of *n* counts is the number of good items before a failed one, from 0. With
    :math:`\bar x = \bar t / n` three-sigma limits lie at
    :math:`\bar t \pm 3 \sqrt{n \bar x (\bar x + 1)}`, cut at 0, and for averages at
    :math:`\bar x \pm 3 \sqrt{\bar x (\bar x + 1) / n}`. Probability limits are those of the
    negative binomial total.

    Parameters
    ----------
    totals : array_like of int, shape (n_points,)
        Good items in each subgroup, of *n_counts* counts; NaN is a gap.
    n_counts : int
        *n*, counts in a subgroup; 1 makes the three-sigma chart of `g_chart`.
    share : float, optional
        Known share of failures, :math:`\bar x = (1 - p) / p`; default estimated.
    average : bool, default False
        Show and limit averages instead of totals.
    limits : {"three sigma", "probability"}
    false_alarm : float
        Of probability limits, both sides together at most.

    Returns
    -------
    Chart
        `limits.centre` is the mean (three sigma) or the median; `false_alarm` is exact.

    Raises
    ------
    ValueError
        Totals are not whole or negative, or an argument is out of range.
    NotEnoughError
        No point is logged, or every item failed.

    References
    ----------
    F. C. Kaminsky, J. C. Benneyan, R. D. Davis and R. J. Burke (1992), Statistical control charts
    based on a geometric distribution, Journal of Quality Technology 24, 63-69.

    Examples
    --------
    >>> chart = geometric_total_chart([20, 30, 25], 5)
    >>> round(chart.limits.centre, 2), round(float(chart.limits.upper[0]), 2)
    (25.0, 61.74)
    """
    shown = one_row(totals)
    known = whole_counts("totals", shown[~np.isnan(shown)])
    count = whole_number("n_counts", n_counts, 1)
    half = real("false_alarm", chance("false_alarm", false_alarm), least=LEAST_CHANCE) / 2.0
    p = _share_of(known + count, count, share)
    mean, spread = count * (1.0 - p) / p, math.sqrt(count * (1.0 - p)) / p
    if limits == "three sigma":
        lower, centre, upper = max(0.0, mean - 3.0 * spread), mean, mean + 3.0 * spread
    elif limits == "probability":
        lower, centre, upper = _total_limits(p, count, half)
    else:
        msg = f"limits must be 'three sigma' or 'probability', got {limits!r}"
        raise ValueError(msg)
    beyond = _beyond(p, count, lower, upper)
    scale = 1.0 / count if average else 1.0
    values = shown * scale
    values.flags.writeable = False
    return Chart(
        kind="h" if average else "g",
        values=values,
        limits=Limits(
            centre=centre * scale,
            lower=constant_line(lower * scale, shown),
            upper=constant_line(upper * scale, shown),
            sigma=spread * scale,
            sigma_from=_told("geometric", share),
            degrees_of_freedom=math.inf if share is not None else float(len(known) * count),
        ),
        signals=signals_beyond(shown, lower, upper),
        false_alarm=float(1.0 - (1.0 - beyond) ** len(known)),
    )


def _share_of(items: Floats, failures: int, share: float | None) -> float:
    """Share of failures, known or estimated from items counted with *failures* failed ones each."""
    if len(items) == 0 or (share is None and (items == failures).all()):
        msg = "A chart of items until failures needs at least one good item; there is none."
        raise NotEnoughError(msg)
    p = failures / float(items.mean()) if share is None else chance("share", share)
    return real("share", p, least=_LEAST_SHARE)


def _told(family: str, share: float | None) -> str:
    return family + (", share of failures given" if share is not None else "")


def _total_limits(share: float, failures: int, half: float) -> tuple[float, float, float]:
    """Lower limit, median and upper limit of the good items before so many failures."""
    from scipy.stats import nbinom

    law = nbinom(failures, share)
    lower, upper = float(law.ppf(half)), float(law.isf(half))
    # The quantile is the smallest with P(G <= a) >= half, so that P(G < a) stays below it.
    return lower, float(law.ppf(0.5)), upper


def _beyond(share: float, failures: int, lower: float, upper: float) -> float:
    r"""
    Chance that the good items before so many failures lie beyond the limits.

    :math:`P(G \le k) = I_p(r, k + 1)`, the incomplete beta function, for numbers of any size.
    """
    from scipy.special import betainc, betaincc

    low, high = math.ceil(lower - 1e-9) - 1, math.floor(upper + 1e-9)
    below = float(betainc(failures, low + 1.0, share)) if low >= 0 else 0.0
    above = float(betaincc(failures, high + 1.0, share)) if high >= 0 else 1.0
    return below + above
