"""Statistics of change over all splits of a log: step, ramp and spread, many orders at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Columns = NDArray[np.floating]  # float32: many series at once, and half the memory

FORMS = ("step", "ramp", "spread")
LEAST_SEGMENT = 5  # runs on each side of a split
PSEUDO_RUNS = 3.0  # runs of variance 1 added to each side when variances are compared
HIGHEST_PHI = 0.8
_RAMP_STARTS = (0.0, 0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.8)  # shares of the log
# Taking out the best step or ramp of n values lowers the lag-1 correlation r by about
# (4.5 + 8 r) / n: simulated for n = 40 to 300 and r = 0 to 0.5, 4000 series each.
_LAG_ONE_LOSS, _LAG_ONE_LOSS_PER_R = 4.5, 8.0


@dataclass(frozen=True, eq=False)
class Splits:
    """
    All that the statistics need to know about one parameter's place in the log.

    Attributes
    ----------
    splits : array of int, shape (n_splits,)
        Values before each split that is looked at.
    norms : array, shape (n_splits,)
        Variance of the sum of scores before the split when scores are re-ordered within strata.
    hinges : array, shape (n_starts, n_values)
        Ramps, centred within strata and of length 1.
    """

    splits: NDArray[np.intp]
    norms: Columns
    hinges: Columns


def split_norms(strata: NDArray[np.intp], variances: Floats) -> Floats:
    r"""
    Variance of the sum of the first *k* scores over re-orderings within strata, for every *k*.

    :math:`\sum_s v_s k_s (n_s - k_s) / n_s`, with :math:`k_s` of stratum *s*'s :math:`n_s` values
    among the first *k*.

    Parameters
    ----------
    strata : array of int, shape (n_values,)
    variances : array, shape (n_strata,)
        Variance of the scores of each stratum.

    Returns
    -------
    array, shape (n_values + 1,)

    Examples
    --------
    >>> split_norms(np.array([0, 0, 0, 0]), np.array([1.0])).tolist()
    [0.0, 0.75, 1.0, 0.75, 0.0]
    """
    total = np.zeros(len(strata) + 1)
    for code, variance in enumerate(variances):
        before = np.concatenate([[0], np.cumsum(strata == code)])
        total += variance * before * (before[-1] - before) / max(before[-1], 1)
    return total


def centred_within(rows: Floats, strata: NDArray[np.intp]) -> Floats:
    """Rows less their mean within each stratum; shape (n_rows, n_values)."""
    centred = rows.copy()
    for code in np.unique(strata):
        inside = strata == code
        centred[:, inside] -= centred[:, inside].mean(axis=1, keepdims=True)
    return centred


def prepare(strata: NDArray[np.intp], variances: Floats) -> Splits:
    """
    Choose the splits worth looking at and the ramps, given how the strata lie in time.

    A split is left out when the strata leave less to compare than 5 runs against the rest would.

    Parameters
    ----------
    strata : array of int, shape (n_values,)
    variances : array, shape (n_strata,)

    Returns
    -------
    Splits
    """
    count = len(strata)
    norms = split_norms(strata, variances)
    least = LEAST_SEGMENT * (count - LEAST_SEGMENT) / count
    splits = np.arange(LEAST_SEGMENT, count - LEAST_SEGMENT + 1)
    kept = splits[norms[splits] >= least * 0.999]
    if len(kept) == 0:  # strata follow each other without overlap: keep the best that there is
        kept = np.array([int(np.argmax(norms))])
    time = np.arange(count, dtype=float)
    starts = np.array(_RAMP_STARTS)[:, None] * count
    hinges = centred_within(np.maximum(0.0, time - starts), strata)
    weighted = hinges * np.sqrt(variances[strata])
    length = np.sqrt((weighted**2).sum(axis=1))
    usable = length > 0.1 * length.max()
    hinges = hinges[usable] / length[usable, None]
    return Splits(kept, norms[kept].astype(np.float32), hinges.astype(np.float32))


def statistics(series: Columns, place: Splits) -> tuple[dict[str, Columns], Columns]:
    r"""
    Largest step, ramp and spread statistic over all splits, for many series at once.

    With *S* the cumulative sum and *sd* the standard deviation of the series and :math:`\phi` its
    lag-1 correlation: step :math:`\max_k |S_k| / (sd \sqrt{v_k}) \sqrt{(1-\phi)/(1+\phi)}`; ramp
    the same for its product with hinges; spread the log likelihood ratio of the variance before
    and after, three runs of variance 1 added to each side, times
    :math:`(1-\phi^2)/(1+\phi^2)`.

    Parameters
    ----------
    series : array, shape (n_values, n_series)
        Scores in time order, about mean 0.
    place : Splits

    Returns
    -------
    dict of form to array, shape (n_series,)
        Large values speak for a change.
    array, shape (n_series,)
        The lag-1 correlations used.

    References
    ----------
    Weighted cumulative sums: M. Csorgo and L. Horvath (1997), Limit Theorems in Change-Point
    Analysis, Wiley, section 2.1.
    """
    sums = np.cumsum(series, axis=0)
    steps = np.abs(sums[place.splits - 1]) / np.sqrt(place.norms)[:, None]
    ramps = np.abs(place.hinges @ series)
    squares = np.cumsum(series * series, axis=0)
    power = squares[-1]
    phi = _lag_one(series, sums, power, steps, ramps, place)
    level = np.sqrt(len(series) / power * (1.0 - phi) / (1.0 + phi))
    ratio = _variance_ratio(squares, place.splits) * (1.0 - phi**2) / (1.0 + phi**2)
    found = {"step": steps.max(axis=0) * level, "ramp": ramps.max(axis=0) * level, "spread": ratio}
    return found, phi


def _variance_ratio(squares: Columns, splits: NDArray[np.intp]) -> Columns:
    """Twice the largest log likelihood ratio of two variances against one; shape (n_series,)."""
    count = np.float32(len(squares))
    scaled = squares * (count / squares[-1])
    size = splits.astype(np.float32)[:, None]
    first, second = size + PSEUDO_RUNS, count - size + PSEUDO_RUNS
    before = scaled[splits - 1] + np.float32(PSEUDO_RUNS)
    after = (count + np.float32(2 * PSEUDO_RUNS)) - before
    ratios = first * np.log(before / first) + second * np.log(after / second)
    largest: Columns = -ratios.min(axis=0)
    return largest


def _lag_one(
    series: Columns, sums: Columns, power: Columns, steps: Columns, ramps: Columns, place: Splits
) -> Columns:
    """Lag-1 correlation of what the better of the best step and ramp leaves over."""
    count = len(series)
    products = np.einsum("ij,ij->j", series[1:], series[:-1])
    which, best_step = steps.argmax(axis=0), steps.max(axis=0)
    hinge, best_ramp = ramps.argmax(axis=0), ramps.max(axis=0)
    after_step = _lag_one_less_step(series, sums, place.splits[which], products)
    after_ramp = _lag_one_less_ramp(series, place.hinges, hinge, products)
    gain = np.where(best_step >= best_ramp, best_step, best_ramp) ** 2
    left = np.where(best_step >= best_ramp, after_step, after_ramp)
    correlation = left / np.maximum(power - gain, 0.05 * power)
    loss = (_LAG_ONE_LOSS + _LAG_ONE_LOSS_PER_R * np.maximum(correlation, 0.0)) / count
    clipped: Columns = np.clip(correlation + loss, 0.0, HIGHEST_PHI).astype(np.float32)
    return clipped


def _lag_one_less_step(
    series: Columns, sums: Columns, split: NDArray[np.intp], products: Columns
) -> Columns:
    """Sum of products of neighbours once the mean before and after a split is taken out."""
    count, column = len(series), np.arange(series.shape[1])
    total = sums[-1]
    until = sums[split - 1, column]
    first, second = until / split, (total - until) / (count - split)
    # Sum over t >= 1 of y[t] m[t-1] + y[t-1] m[t] - m[t] m[t-1], m the mean of t's side.
    last_before, first_after = series[split - 1, column], series[split, column]
    inner = first * (2 * until - series[0] - last_before) + second * (
        2 * (total - until) - first_after - series[-1]
    )
    across = first * first_after + second * last_before
    means = first**2 * (split - 1) + second**2 * (count - split - 1) + first * second
    left: Columns = products - inner - across + means
    return left


def _lag_one_less_ramp(
    series: Columns, hinges: Columns, which: NDArray[np.intp], products: Columns
) -> Columns:
    """Sum of products of neighbours once the fitted ramp is taken out."""
    column = np.arange(series.shape[1])
    neighbours = np.zeros_like(hinges)
    neighbours[:, 1:] += hinges[:, :-1]
    neighbours[:, :-1] += hinges[:, 1:]
    slope = (hinges @ series)[which, column]
    own = np.einsum("ij,ij->i", hinges[:, 1:], hinges[:, :-1])[which]
    left: Columns = products - slope * (neighbours @ series)[which, column] + slope**2 * own
    return left
