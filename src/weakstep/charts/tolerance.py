"""How a parameter keeps its tolerance: capability if it is stable, on the scale that suits it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.capability_indices import capability, check_tolerance
from weakstep.charts.checks import chance
from weakstep.charts.model import Limits
from weakstep.charts.normality import anderson_darling, box_cox
from weakstep.charts.row_checks import one_row
from weakstep.interval import Interval

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

_NOT_NORMAL = 0.005  # p of Anderson and Darling's test
_DISTINCT_FOR_NORMALITY = 20  # rounding alone is not taken for another shape
_MOST_POWER = 2.0
_GRID = 120  # quantiles of mean and of spread behind an interval: three digits of its ends
_REACH = 3.0  # sigmas between the median and the 0.135 % points
_LEAST = 10  # values


@dataclass(frozen=True)
class Tolerance:
    """
    A tolerance, how often it was passed, and the indices where they can be stated.

    Attributes
    ----------
    lower, upper : float or None
    n_values, outside : int
        Values logged, and those outside the tolerance.
    outside_expected : float or None
        Share outside that the fitted distribution has; None where refused.
    method : str
        "normal", "logarithms" or "power 0.5": the scale on which values are taken as normal. On
        another than the plain one indices are those of percentiles (ISO 22514-2).
    cp, cpk, pp, ppk : Interval or None
        None where refused, and cp and pp where a limit is missing.
    refused : str or None
        Why no index is stated, a sentence.
    """

    lower: float | None
    upper: float | None
    n_values: int
    outside: int
    outside_expected: float | None = None
    method: str = "normal"
    cp: Interval | None = None
    cpk: Interval | None = None
    pp: Interval | None = None
    ppk: Interval | None = None
    refused: str | None = None


def judge_tolerance(
    values: ArrayLike,
    *,
    lower: float | None,
    upper: float | None,
    limits: Limits,
    on_log_scale: bool = False,
    moved: str | None = None,
    level: float = 0.95,
) -> Tolerance:
    r"""
    Judge how the values of one parameter keep its tolerance.

    Values are taken as normal on the plain scale, of logarithms where the chart is computed on
    them, or, where Anderson and Darling's test refuses the plain one (p below 0.005), of the power
    that Box and Cox find. On the plain scale indices and intervals are those of `capability`. On
    another they are those of percentiles,
    :math:`(U - L) / (X_{.99865} - X_{.00135})` and, for each limit, the distance from the median
    over that of the percentile, with generalised intervals: the quantiles of the index when mean
    and sigma are drawn from :math:`\mu = \bar x - z \sigma / \sqrt n` and
    :math:`\sigma^2 = f s^2 / \chi^2_f`.

    Parameters
    ----------
    values : array_like, shape (n_values,)
        In one unit; NaN where not logged.
    lower, upper : float or None
        Limits of the tolerance, in the unit; at least one.
    limits : Limits
        Of the individuals chart: its sigma (of logarithms for a log scale) and degrees of freedom.
    on_log_scale : bool
        Whether the chart is computed on logarithms.
    moved : str, optional
        Why the parameter is not stable, a phrase; indices are then refused with it.
    level : float, default 0.95
        Of the intervals.

    Returns
    -------
    Tolerance

    Raises
    ------
    ValueError
        The tolerance is missing or upside down.

    References
    ----------
    ISO 22514-2. S. Weerahandi (1993), Generalized confidence intervals, Journal of the American
    Statistical Association 88, 899-905.

    Examples
    --------
    >>> one = Limits(16.0, np.zeros(20), np.zeros(20), 2.0, "given", float("inf"))
    >>> found = judge_tolerance(np.tile([14.0, 18.0], 10), lower=8, upper=20, limits=one)
    >>> found.outside, round(found.cpk.estimate, 3), found.method
    (0, 0.667, 'normal')
    """
    check_tolerance(lower, upper)
    chance("level", level)
    if not isinstance(limits, Limits):
        msg = f"limits must be those of an individuals chart, got {limits!r}"
        raise ValueError(msg)
    row = one_row(values)
    known = row[~np.isnan(row)]
    low = -math.inf if lower is None else lower
    high = math.inf if upper is None else upper
    outside = int(((known < low) | (known > high)).sum())
    refused = _refusal(known, moved)
    if refused:
        return Tolerance(lower, upper, len(known), outside, refused=refused)
    power = 0.0 if on_log_scale else _power(known)
    if power == 1.0:
        freedom = min(limits.degrees_of_freedom, 1e9)
        plain = capability(
            known, lower=lower, upper=upper, sigma=limits.sigma, degrees_of_freedom=freedom,
            level=level,
        )  # fmt: skip
        return Tolerance(
            lower, upper, len(known), outside, plain.outside_expected, "normal",
            plain.cp, plain.cpk, plain.pp, plain.ppk,
        )  # fmt: skip
    return _by_percentiles(known, (lower, upper), limits, power, level, outside)


def _refusal(known: Floats, moved: str | None) -> str | None:
    if moved is not None:
        return f"No capability is stated, because the parameter is not stable: {moved}."
    if len(known) < _LEAST or np.ptp(known) == 0.0:
        return f"Capability needs at least {_LEAST} values that vary; {len(known)} logged."
    return None


def _power(known: Floats) -> float:
    """Power of the scale on which values are taken as normal; 1 is the plain one."""
    if known.min() <= 0.0 or len(np.unique(known)) < _DISTINCT_FOR_NORMALITY:
        return 1.0
    if anderson_darling(known).p >= _NOT_NORMAL:
        return 1.0
    found = box_cox(known)
    if found.lower <= 0.0 <= found.upper:
        return 0.0
    return float(np.clip(round(found.estimate, 2), -_MOST_POWER, _MOST_POWER))


def _by_percentiles(
    known: Floats,
    tolerance: tuple[float | None, float | None],
    limits: Limits,
    power: float,
    level: float,
    outside: int,
) -> Tolerance:
    lower, upper = tolerance
    scaled = _scaled(known, power)
    overall = float(scaled.std(ddof=1))
    # The chart's sigma is that of logarithms or of the plain scale; another power has its own.
    within = limits.sigma if power == 0.0 and "logarithm" in limits.sigma_from else None
    if within is None:
        from weakstep.charts.factors import constants
        from weakstep.charts.single_values import moving_range_freedom

        within = float(np.abs(np.diff(scaled)).mean()) / constants(2).d2
        freedom = moving_range_freedom(len(known))
    else:
        freedom = min(limits.degrees_of_freedom, 1e9)
    mean = float(scaled.mean())
    cp, cpk = _index_intervals((mean, within), (len(known), freedom), power, tolerance, level)
    pp, ppk = _index_intervals(
        (mean, overall), (len(known), len(known) - 1.0), power, tolerance, level
    )
    return Tolerance(
        lower, upper, len(known), outside, _share_outside(mean, overall, power, tolerance),
        "logarithms" if power == 0.0 else f"power {power:g}", cp, cpk, pp, ppk,
    )  # fmt: skip


def _scaled(values: Floats, power: float) -> Floats:
    return np.log(values) if power == 0.0 else (values**power - 1.0) / power


def _back(scaled: Floats, power: float) -> Floats:
    if power == 0.0:
        return np.exp(scaled)
    # Where the power scale ends before 3 sigma, its end.
    base = np.maximum(1.0 + power * scaled, 0.0 if power > 0.0 else 1e-300)
    return np.asarray(base ** (1.0 / power), dtype=float)


def _share_outside(
    mean: float, sigma: float, power: float, tolerance: tuple[float | None, float | None]
) -> float:
    from weakstep.charts.normal import normal_cdf

    share = 0.0
    for side, limit in zip((1.0, -1.0), tolerance, strict=True):
        if limit is None:
            continue
        if limit <= 0.0:  # values on a power scale are above 0
            share += 0.0 if side > 0.0 else 1.0
            continue
        z = (float(_scaled(np.array(limit), power)) - mean) / sigma
        share += float(normal_cdf(side * z))
    return share


def _index_intervals(
    law: tuple[float, float],
    behind: tuple[int, float],
    power: float,
    tolerance: tuple[float | None, float | None],
    level: float,
) -> tuple[Interval | None, Interval]:
    """Index of both limits and the smaller of the one-sided ones, with generalised intervals."""
    from scipy.special import chdtri, ndtri

    mean, sigma = law
    count, freedom = behind
    places = (np.arange(_GRID) + 0.5) / _GRID
    spread = sigma * np.sqrt(freedom / chdtri(freedom, places))[:, None]
    middle = mean - ndtri(places) * spread / math.sqrt(count)
    spread = np.broadcast_to(spread, middle.shape)
    drawn_both, drawn_least = _indices(middle.ravel(), spread.ravel(), power, tolerance)
    both, least = _indices(np.array([mean]), np.array([sigma]), power, tolerance)
    half = (1.0 - level) / 2.0

    def interval(estimate: Floats, drawn: Floats) -> Interval:
        low, high = np.quantile(drawn, [half, 1.0 - half])
        return Interval(float(estimate[0]), float(low), float(high), level)

    found = None if both is None or drawn_both is None else interval(both, drawn_both)
    return found, interval(least, drawn_least)


def _indices(
    mean: Floats, sigma: Floats, power: float, tolerance: tuple[float | None, float | None]
) -> tuple[Floats | None, Floats]:
    """Percentile indices for many means and sigmas at once: of both limits, and the smaller one."""
    lower, upper = tolerance
    low, middle, high = (_back(mean + reach * sigma, power) for reach in (-_REACH, 0.0, _REACH))
    sides = []
    if lower is not None:
        sides.append((middle - lower) / np.maximum(middle - low, 1e-300))
    if upper is not None:
        sides.append((upper - middle) / np.maximum(high - middle, 1e-300))
    both = None if lower is None or upper is None else (upper - lower) / (high - low)
    return both, np.minimum.reduce(sides)
