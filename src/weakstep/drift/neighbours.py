"""How much the values of one parameter resemble the ones before, a change taken out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from weakstep.drift.splits import Columns, Splits

# Taking out the best step, ramp or stretch of n values lowers the lag-1 correlation r by about
# (6 + 11 r) / n: simulated for n = 40 to 300 and r = 0 to 0.5, 3000 series each.
_LAG_ONE_LOSS, _LAG_ONE_LOSS_PER_R = 6.0, 11.0


def lag_one(series: Columns, place: Splits) -> Columns:
    """
    Lag-1 correlation of what the best step, ramp or stretch leaves over.

    It is corrected for what taking that out costs on average.

    Parameters
    ----------
    series : array, shape (n_values, n_series)
        Scores in time order, about mean 0.
    place : Splits

    Returns
    -------
    array, shape (n_series,)
        From -1 to 1.
    """
    count, column = len(series), np.arange(series.shape[1])
    sums = np.cumsum(series, axis=0)
    power = np.einsum("ij,ij->j", series, series)
    steps = sums[place.splits - 1] ** 2 / place.norms[:, None]
    templates = np.vstack([place.ramps.rows, place.stretches.rows])
    fitted = templates @ series
    products = np.einsum("ij,ij->j", series[1:], series[:-1])
    which, best_step = steps.argmax(axis=0), steps.max(axis=0)
    template = np.abs(fitted).argmax(axis=0)
    slope = fitted[template, column]
    after_step = _lag_one_less_step(series, sums, place.splits[which], products)
    after_template = _lag_one_less_template(series, templates[template].T, slope, products)
    is_step = best_step >= slope**2
    gain = np.where(is_step, best_step, slope**2)
    left = np.where(is_step, after_step, after_template)
    correlation = left / np.maximum(power - gain, 0.05 * power)
    loss = (_LAG_ONE_LOSS + _LAG_ONE_LOSS_PER_R * np.maximum(correlation, 0.0)) / count
    corrected: Columns = np.clip(correlation + loss, -1.0, 1.0).astype(np.float32)
    return corrected


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


def _lag_one_less_template(
    series: Columns, templates: Columns, slope: Columns, products: Columns
) -> Columns:
    """Sum of products of neighbours once each series' fitted template is taken out."""
    forth = np.einsum("ij,ij->j", templates[1:], series[:-1])
    back = np.einsum("ij,ij->j", templates[:-1], series[1:])
    own = np.einsum("ij,ij->j", templates[1:], templates[:-1])
    left: Columns = products - slope * (forth + back) + slope**2 * own
    return left
