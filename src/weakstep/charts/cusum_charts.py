"""Tabular cumulative sums, upwards and downwards, alike or not, with limits for single values."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import degrees, real
from weakstep.charts.cusum_chains import Both, Side, cusum_sides
from weakstep.charts.cusum_run_lengths import cusum_survival
from weakstep.charts.frozen import constant_line, frozen
from weakstep.charts.model import Chart, Limits, Signal
from weakstep.charts.row_checks import one_row
from weakstep.charts.single_signals import single_signals

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Cusum:
    """
    Tabular cumulative sums upwards and downwards.

    Attributes
    ----------
    up, down : Chart
        Sums in the unit of the values, each from 0 to its limit; both count away from the target,
        so `down` grows when values are low.
    up_since, down_since : array of int, shape (n_points,)
        Logged points in a row, up to each point, for which the sum was above 0: the change began
        that many points ago (0 where the sum is 0).
    false_alarm : float
        Chance that a stable log of this length signals on either side (that of `up` or `down` is
        for one side alone); exact for sides alike, else as `weakstep.charts.cusum_chains` tells.
    """

    up: Chart
    down: Chart
    up_since: NDArray[np.intp]
    down_since: NDArray[np.intp]
    false_alarm: float


def cusum(
    values: ArrayLike,
    *,
    target: float,
    sigma: float,
    allowance: Both = 0.5,
    decision: Both = 5.0,
    head_start: Both = 0.0,
    shewhart_limit: float | None = None,
    sigma_from: str = "given",
    degrees_of_freedom: float = math.inf,
) -> Cusum:
    r"""
    Tabular CUSUM, upwards and downwards.

    .. math::
        C^+_i = \max(0, C^+_{i-1} + x_i - \mu_0 - k \sigma), \quad
        C^-_i = \max(0, C^-_{i-1} - x_i + \mu_0 - k \sigma),

    with a signal above :math:`h \sigma`. A missing value leaves the sums where they were.

    Parameters
    ----------
    values : array_like, shape (n_points,)
        In time order, in one unit; NaN where not logged.
    target, sigma : float
        Mean and standard deviation of a stable value, in the unit of *values*.
    allowance, decision : float or pair of float, default 0.5 and 5
        *k* and *h*, in sigmas; a pair is (up, down). Half the shift to be found is the best
        allowance.
    head_start : float or pair of float, default 0
        Where the sums start, in sigmas; half of *decision* is the fast initial response of Lucas
        and Crosier. On average at most *decision* / 2 + *allowance*.
    shewhart_limit : float, optional
        Limit for single values, in *sigma* from the target: the combined Shewhart-CUSUM chart, on
        which a value beyond it signals too ("value_beyond_limit", on the side it lies on).
    sigma_from : str
        How *sigma* was found, as a phrase.
    degrees_of_freedom : float
        Of *sigma*; infinite where it is known.

    Returns
    -------
    Cusum

    Raises
    ------
    ValueError
        Values, sigma, allowance, decision, head start or degrees of freedom are out of range.

    References
    ----------
    E. S. Page (1954), Continuous inspection schemes, Biometrika 41, 100-115. J. M. Lucas and
    R. B. Crosier (1982), Fast initial response for CUSUM quality-control schemes, Technometrics
    24, 199-205. J. M. Lucas (1982), Combined Shewhart-CUSUM quality control schemes, Journal of
    Quality Technology 14, 51-59.

    Examples
    --------
    >>> sums = cusum([9.45, 7.99, 9.29, 11.66], target=10.0, sigma=1.0)
    >>> sums.up.values.round(2).tolist(), sums.down.values.round(2).tolist()
    ([0.0, 0.0, 0.0, 1.16], [0.05, 1.56, 1.77, 0.0])
    """
    shown = one_row(values)
    real("target", target)
    real("sigma", sigma, above=0.0)
    sides = cusum_sides(allowance, decision, head_start, shewhart_limit, two_sided=True)
    freedom = degrees("degrees_of_freedom", degrees_of_freedom)
    scale = Scale(float(sigma), sigma_from, freedom)
    off = (shown - target) / sigma
    up, up_since = _one_side(off, sides[0], scale, "CUSUM up")
    down, down_since = _one_side(-off, sides[1], scale, "CUSUM down")
    count = int((~np.isnan(shown)).sum())
    alive = cusum_survival(
        count,
        allowance,
        decision,
        head_start=head_start,
        two_sided=True,
        shewhart_limit=shewhart_limit,
    )
    either = float(1.0 - alive[-1]) if count else 0.0
    return Cusum(up, down, up_since, down_since, either)


@dataclass(frozen=True)
class Scale:
    """
    Sigma of single values, and how it was found.

    Attributes
    ----------
    sigma : float
    sigma_from : str
    degrees_of_freedom : float
    """

    sigma: float
    sigma_from: str
    degrees_of_freedom: float


def _one_side(off: Floats, side: Side, scale: Scale, kind: str) -> tuple[Chart, NDArray[np.intp]]:
    """Upward sums of *off* (in sigmas), and for how many points each has been above 0."""
    sums = np.full(off.shape, np.nan)
    since = np.zeros(off.shape, dtype=np.intp)
    logged = np.flatnonzero(~np.isnan(off))
    total, count = side.head_start, 0
    for place in logged:
        total = max(0.0, total + float(off[place]) - side.allowance)
        count = count + 1 if total > 0.0 else 0
        sums[place], since[place] = total, count
    beyond = [
        Signal("beyond_limit", "beyond a limit", (int(place),), int(place))
        for place in logged[sums[logged] > side.decision + 1e-9]
    ]
    signals = (*beyond, *single_signals(off, side.single, upwards=True))
    alive = side.chain.survival(len(logged), side.head_start, 0.0)
    since.flags.writeable = False
    chart = Chart(
        kind=kind,
        values=frozen(sums * scale.sigma),
        limits=Limits(
            centre=0.0,
            lower=constant_line(0.0, off),
            upper=constant_line(side.decision * scale.sigma, off),
            sigma=scale.sigma,
            sigma_from=scale.sigma_from,
            degrees_of_freedom=scale.degrees_of_freedom,
        ),
        signals=tuple(sorted(signals, key=lambda signal: (signal.at, signal.pattern))),
        false_alarm=float(1.0 - alive[-1]) if len(alive) else 0.0,
    )
    return chart, since
