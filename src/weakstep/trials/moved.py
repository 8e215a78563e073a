"""What else changed between two periods, and the failure rates with that allowed for."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.null_model import (
    fit_null,
    logistic,
    operator_background,
    overdispersion,
)
from weakstep.interval import Interval
from weakstep.trials.nested import as_if_independent
from weakstep.trials.spreads import FEWEST_VALUES, ratio_of_spreads

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from weakstep.process.model import Process
    from weakstep.trials.periods import Periods

    Floats = NDArray[np.float64]

MOVED_BY = 0.5  # standard deviations; less than that hardly moves a failure rate
MOVED_CHANCE = 0.01
MOST_ALLOWED = 5  # parameters in the model; more would ask too much of a semester
_SLOPE_SD = 0.8  # prior of a logit per standard deviation, as in the ranking
_PERIOD_SD = 2.0
_DRAWS = 2000


@dataclass(frozen=True)
class Moved:
    """
    A parameter that differs between two periods.

    Attributes
    ----------
    column : str
    before, after : float
        Medians, in the parameter's unit; shares of yes of a yes/no parameter.
    shift : float
        Difference of the means in standard deviations within periods (on the parameter's scale).
    p : float
        Wilcoxon's rank-sum test, two-sided.
    """

    column: str
    before: float
    after: float
    shift: float
    p: float


@dataclass(frozen=True)
class Spread:
    """
    A parameter's own values before and after.

    Attributes
    ----------
    column : str
    medians, deviations : tuple of two floats
        Median (share of yes, of a yes/no parameter) and standard deviation before and after, in the
        parameter's unit; deviations are factors, exp(sd of log), for one on the log scale.
    ratio : Interval
        Standard deviation (of logs, for a parameter on the log scale) after over before.
    inside : tuple of two floats or None
        Share of runs inside the window before and after.
    as_factor : bool
        Whether the parameter is on the log scale.
    """

    column: str
    medians: tuple[float, float]
    deviations: tuple[float, float]
    ratio: Interval
    inside: tuple[float, float] | None
    as_factor: bool = False


def scaled(process: Process, column: str, values: Floats) -> Floats:
    """Return values on the scale on which their differences matter: logs where all allow it."""
    known = values[~np.isnan(values)]
    if process.parameter(column).scale == "log" and len(known) and known.min() > 0.0:
        return np.asarray(np.log(values))
    return values


def middle(process: Process, column: str, values: Floats) -> float:
    """Return the median of runs, or the share of yes, of which a median says only yes or no."""
    yes_no = process.parameter(column).kind == "yes_no"
    return float(np.mean(values) if yes_no else np.median(values))


def what_moved(periods: Periods, changed: str | None = None) -> tuple[Moved, ...]:
    """
    Find number parameters that differ between the periods, largest shift first.

    Parameters
    ----------
    periods : Periods
    changed : str, optional
        The parameter changed on purpose; it, what it is computed from and what is computed from it
        are left out.

    Returns
    -------
    tuple of Moved
        Those that differ by at least half a standard deviation, with p <= 0.01.
    """
    from scipy.stats import mannwhitneyu

    found = []
    kin = _kin(periods.process, changed)
    for column in periods.numbers.columns:
        values = periods.numbers[column].to_numpy(dtype=float)
        first, second = (values[g & ~np.isnan(values)] for g in (~periods.after, periods.after))
        if column in kin or min(len(first), len(second)) < FEWEST_VALUES:
            continue
        shift = _shift(scaled(periods.process, column, values), periods.after)
        if abs(shift) < MOVED_BY:
            continue
        p = float(mannwhitneyu(first, second).pvalue)
        if p <= MOVED_CHANCE:
            ends = [middle(periods.process, str(column), group) for group in (first, second)]
            found.append(Moved(str(column), ends[0], ends[1], shift, p))
    return tuple(sorted(found, key=lambda moved: -abs(moved.shift)))


def _kin(process: Process, changed: str | None) -> set[str]:
    """Columns that are the changed one, go into it, or come out of it."""
    if changed is None:
        return set()
    parts = {
        parameter.name: set(re.findall(r"[a-z_]\w*", parameter.formula or ""))
        for parameter in process.parameters
    }
    return {changed, *parts.get(changed, ())} | {
        name for name, needed in parts.items() if changed in needed
    }


def _shift(values: Floats, after: NDArray[np.bool_]) -> float:
    known = ~np.isnan(values)
    first, second = values[known & ~after], values[known & after]
    within = np.sqrt((first.var(ddof=1) + second.var(ddof=1)) / 2.0)
    apart = float(second.mean() - first.mean())
    if within == 0.0:
        return float(np.sign(apart)) * np.inf if apart else 0.0
    return apart / float(within)


def allowed_for(
    periods: Periods, failed: NDArray[np.int_], columns: tuple[str, ...], *, seed: int = 0
) -> Interval | None:
    r"""
    Difference of failure rates, later less earlier, with operators and other parameters held.

    A logit of failure on the period, operators (prior sd 0.5) and the parameters (linear,
    standardised, prior sd 0.8; missing ones at the mean) is fitted; every run is then told twice,
    as if earlier and as if later, and the mean of the differences is taken over all chips:
    :math:`\sum_i m_i [p_i(1) - p_i(0)] / \sum_i m_i` (standardisation, or the g-formula). Draws of
    the coefficients from their normal law, its variance times the overdispersion between runs, give
    the interval; in the fit, chips of one run are taken together (`as_if_independent`).

    Parameters
    ----------
    periods : Periods
    failed : array of int, shape (n_runs,)
    columns : tuple of str
        Number parameters to hold.
    seed : int

    Returns
    -------
    Interval or None
        None when no chip or every chip failed.

    References
    ----------
    Robins, J. (1986), Mathematical Modelling 7, 1393-1512; Localio, A. R. et al. (2007), Journal of
    Clinical Epidemiology 60, 874-882, for rates after logistic regression.
    """
    used = periods.tested > 0
    k, m, after = failed[used], periods.tested[used], periods.after[used]
    if not 0 < k.sum() < m.sum():
        return None
    background = operator_background(periods.operator[used])
    background = background.with_columns(after.astype(float) - 0.5, _PERIOD_SD)
    place = background.columns.shape[1] - 1
    for column in columns:
        values = scaled(periods.process, column, periods.numbers[column].to_numpy(dtype=float))
        background = background.with_columns(_standardised(values[used]), _SLOPE_SD)
    fit = fit_null(background, *as_if_independent(k, m, after))
    covariance = fit.inverse * overdispersion(fit)
    rng = np.random.default_rng(seed)
    draws = rng.multivariate_normal(fit.coefficients, covariance, size=_DRAWS)
    earlier, later = background.columns.copy(), background.columns.copy()
    earlier[:, place], later[:, place] = -0.5, 0.5
    weights = m / m.sum()

    def difference(coefficients: Floats) -> Floats:
        apart = logistic(later @ coefficients.T) - logistic(earlier @ coefficients.T)
        return np.asarray(weights @ apart)

    lower, upper = np.quantile(difference(draws), [0.025, 0.975])
    estimate = float(difference(fit.coefficients[None, :])[0])
    return Interval(estimate, float(min(lower, estimate)), float(max(upper, estimate)), 0.95)


def _standardised(values: Floats) -> Floats:
    known = ~np.isnan(values)
    spread = float(values[known].std()) if known.any() else 0.0
    if spread == 0.0:
        return np.zeros(len(values))
    return np.where(known, (values - values[known].mean()) / spread, 0.0)


def own_spread(
    periods: Periods,
    column: str,
    window: tuple[float | None, float | None] | None = None,
) -> Spread | None:
    """
    Compare a parameter's own values before and after.

    Parameters
    ----------
    periods : Periods
    column : str
    window : tuple of two floats or None, optional
        Ends it was to be held in; None for an open end.

    Returns
    -------
    Spread or None
        None with fewer than 5 values on either side.
    """
    values = periods.numbers[column].to_numpy(dtype=float)
    groups = [values[g & ~np.isnan(values)] for g in (~periods.after, periods.after)]
    if min(map(len, groups)) < FEWEST_VALUES:
        return None
    every = scaled(periods.process, column, values)
    as_factor = every is not values
    spreads = [every[g & ~np.isnan(values)] for g in (~periods.after, periods.after)]
    first, second = (float(group.std(ddof=1)) for group in spreads)
    ratio = ratio_of_spreads(spreads[0], spreads[1])
    inside = None
    if window is not None:
        low_end = -np.inf if window[0] is None else window[0]
        high_end = np.inf if window[1] is None else window[1]
        shares = [float(((g >= low_end) & (g <= high_end)).mean()) for g in groups]
        inside = (shares[0], shares[1])
    medians = tuple(middle(periods.process, column, group) for group in groups)
    deviations = (float(np.exp(first)), float(np.exp(second))) if as_factor else (first, second)
    return Spread(column, (medians[0], medians[1]), deviations, ratio, inside, as_factor)
