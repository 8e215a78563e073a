r"""
Two one-sided EWMA charts with a head start: a process that is off from the start is found sooner.

The means :math:`z^\pm_i = \lambda x_i + (1 - \lambda) z^\pm_{i-1}` start at :math:`\mu_0 \pm s h`
instead of :math:`\mu_0`, *h* the limit and *s* a share of it; only a mean beyond the limit on its
own side signals. Without a head start both are the ordinary chart. As both are made of the same
values they differ from its mean *z* by what is left of the head start, so that neither has
signalled as long as :math:`|z_i - \mu_0| \le h - s h (1 - \lambda)^i`: run lengths are those of one
mean under limits that move, by the integral equation of `weakstep.charts.ewma_chains`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import degrees, real
from weakstep.charts.ewma_chains import (
    chain_between,
    check_ewma,
    ewma_chain,
    ewma_limit,
    law_after,
    under_limits,
)
from weakstep.charts.frozen import constant_line, frozen
from weakstep.charts.model import Chart, Limits
from weakstep.charts.rare import signals_beyond
from weakstep.charts.row_checks import one_row
from weakstep.charts.run_length_laws import RunLengthLaw
from weakstep.charts.weighted import weighted_means
from weakstep.charts.zone_chain import USUAL_WIDTH

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

_SETTLED = 1e-12  # share of the limit; less of a head start no longer matters
_LEAST_WEIGHT = 0.005  # with less a head start lasts for thousands of points
_REACH = 9.0  # standard deviations of the mean on the side without a limit
_ROUNDING = 1e-9  # sigmas; a mean on its limit is not beyond it


@dataclass(frozen=True, eq=False)
class EwmaPair:
    """
    Two one-sided charts of exponentially weighted means.

    Attributes
    ----------
    up, down : Chart
        Means that started above and below the target, in the unit of the values, each with a limit
        on its own side only (the other is infinite).
    false_alarm : float
        Chance that a stable log of this length signals on either side (that of `up` or `down` is
        for one side alone).
    """

    up: Chart
    down: Chart
    false_alarm: float


def ewma_pair(
    values: ArrayLike,
    *,
    target: float,
    sigma: float,
    weight: float = 0.2,
    width: float = USUAL_WIDTH,
    head_start_share: float = 0.5,
    sigma_from: str = "given",
    degrees_of_freedom: float = math.inf,
) -> EwmaPair:
    r"""
    Two one-sided charts of exponentially weighted means with a head start.

    The limit is :math:`h = L \sigma \sqrt{\lambda / (2 - \lambda)}` on either side of the target. A
    missing value leaves both means where they were.

    Parameters
    ----------
    values : array_like, shape (n_points,)
        In time order, in one unit; NaN where not logged.
    target, sigma : float
        Mean and standard deviation of a stable value, in the unit of *values*.
    weight : float, default 0.2
        Of the newest value, from 0.005 to 1.
    width : float, default 3
        *L*, in standard deviations of the weighted mean.
    head_start_share : float, default 0.5
        *s*, from 0 to below 1; half is the fast initial response of Lucas and Saccucci.
    sigma_from : str
        How *sigma* was found, as a phrase.
    degrees_of_freedom : float
        Of *sigma*; infinite where it is known.

    Returns
    -------
    EwmaPair

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
    >>> pair = ewma_pair([0.5, 1.5], target=0.0, sigma=1.0, weight=0.2, width=3.0)
    >>> pair.up.values.round(2).tolist(), pair.down.values.round(2).tolist()
    ([0.5, 0.7], [-0.3, 0.06])
    >>> round(float(pair.up.limits.upper[0]), 2), pair.up.signals
    (1.0, ())
    """
    shown = one_row(values)
    real("target", target)
    real("sigma", sigma, above=0.0)
    law = ewma_pair_law(weight, width, head_start_share=head_start_share)
    one_side = ewma_pair_law(weight, width, head_start_share=head_start_share, two_sided=False)
    freedom = degrees("degrees_of_freedom", degrees_of_freedom)
    limit = ewma_limit(weight, width, None)
    off = (shown - target) / sigma
    logged = ~np.isnan(shown)
    count = int(logged.sum())

    def side(way: float, kind: str) -> Chart:
        means = np.full(shown.shape, np.nan)
        means[logged] = weighted_means(off[logged], weight, way * head_start_share * limit)
        ends = sorted([way * limit, -way * math.inf])
        return Chart(
            kind=kind,
            values=frozen(target + sigma * means),
            limits=Limits(
                centre=float(target),
                lower=constant_line(target + sigma * ends[0], shown),
                upper=constant_line(target + sigma * ends[1], shown),
                sigma=float(sigma),
                sigma_from=sigma_from,
                degrees_of_freedom=freedom,
            ),
            signals=signals_beyond(means, ends[0] - _ROUNDING, ends[1] + _ROUNDING),
            false_alarm=1.0 - one_side.survival(count),
        )

    return EwmaPair(side(1.0, "EWMA up"), side(-1.0, "EWMA down"), 1.0 - law.survival(count))


def ewma_pair_law(
    weight: float,
    width: float,
    shift: float = 0.0,
    *,
    head_start_share: float = 0.5,
    two_sided: bool = True,
) -> RunLengthLaw:
    r"""
    Distribution of the run length of two one-sided EWMA charts of normal values with a head start.

    Parameters
    ----------
    weight, width : float
        :math:`\lambda`, from 0.005 to 1, and *L* in standard deviations of the weighted mean.
    shift : float, default 0
        Of the mean from the start, in sigmas of a single value.
    head_start_share : float, default 0.5
        *s*, of the limit, from 0 to below 1; 0 gives the ordinary chart.
    two_sided : bool, default True
        False: the upward chart only.

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
    As for `ewma_pair`.

    Examples
    --------
    >>> stable, moved = (ewma_pair_law(0.1, 2.814, shift) for shift in (0.0, 1.0))
    >>> round(stable.average, 1), round(moved.average, 2)
    (461.9, 6.87)
    """
    check_ewma(weight, width, shift, None)
    real("weight", weight, least=_LEAST_WEIGHT)
    share = real("head_start_share", head_start_share, least=0.0)
    if not share < 1.0:
        msg = f"head_start_share must lie from 0 to below 1, got {head_start_share}"
        raise ValueError(msg)
    limit = ewma_limit(weight, width, None)
    points = np.arange(1.0, _points_started(weight, share) + 1.0)
    started = np.asarray(share * limit * (1.0 - weight) ** points, dtype=float)
    started[-1] = 0.0  # so that the law stands on the nodes of limits that no longer move
    if two_sided:
        left, law = under_limits(started - limit, limit - started, weight, shift, 0.0)
        return law_after(left, law, ewma_chain(weight, width), shift)
    # Far below a mean of its own stable spread, which no mean in earnest passes.
    lowest = min(shift, 0.0) - _REACH * math.sqrt(weight / (2.0 - weight))
    left, law = under_limits(np.full(len(started), lowest), limit - started, weight, shift, 0.0)
    return law_after(left, law, chain_between(lowest, limit, weight), shift)


def ewma_pair_run_length(
    weight: float,
    width: float,
    shift: float = 0.0,
    *,
    head_start_share: float = 0.5,
    two_sided: bool = True,
) -> float:
    """
    Average run length of two one-sided EWMA charts: the average of `ewma_pair_law`.

    Parameters
    ----------
    weight, width, shift, head_start_share, two_sided
        As for `ewma_pair_law`.

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
    >>> round(ewma_pair_run_length(0.25, 2.998), 1), round(ewma_pair_run_length(0.25, 2.998, 2), 2)
    (483.7, 2.49)
    """
    return ewma_pair_law(
        weight, width, shift, head_start_share=head_start_share, two_sided=two_sided
    ).average


def _points_started(weight: float, share: float) -> int:
    """Points after which nothing is left of a head start."""
    if weight == 1.0 or share <= _SETTLED:
        return 1
    return max(1, math.ceil(math.log(_SETTLED / share) / math.log1p(-weight)))
