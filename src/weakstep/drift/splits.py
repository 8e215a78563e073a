"""Evidence for a change of any form at any place of a log, for many orders at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Columns = NDArray[np.floating]  # float32: many series at once, and half the memory

FORMS = ("step", "ramp", "stretch", "spread")
LEAST_SEGMENT = 5  # runs on each side of a split
HIGHEST_PHI = 0.8
_RAMP_STARTS = (0.0, 0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.8)  # shares of the log
_MOST_SPLITS = 60  # evenly spaced; neighbours say nearly the same, and time is saved
_MOST_CELLS = 12  # stretches begin and end at the borders of so many cells of at least 5 runs
_RUNS_IN_CELL = 5
# How likely each form is beforehand. Changes of spread are harder to see, so they get more than
# their due; their likelihood is sharpened (power 1.4) and tamed by 8 runs of variance 1 on each
# side. Chosen among a few by power in simulated series of 150 normal values.
_PRIOR = {"step": 0.37, "ramp": 0.155, "stretch": 0.095, "spread": 0.38}
_SPREAD_POWER = 1.4
_SPREAD_PSEUDO_RUNS = 8.0
_LARGEST_SHARE = 0.95  # of the variance that a change of level may explain in the likelihood
# Taking out the best step, ramp or stretch of n values lowers the lag-1 correlation r by about
# (6 + 11 r) / n: simulated for n = 40 to 300 and r = 0 to 0.5, 3000 series each.
_LAG_ONE_LOSS, _LAG_ONE_LOSS_PER_R = 6.0, 11.0


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
    templates : array, shape (n_templates, n_values)
        Ramps, then stretches that come and go, centred within strata and of length 1.
    n_ramps : int
        How many of the templates are ramps.
    """

    splits: NDArray[np.intp]
    norms: Columns
    templates: Columns
    n_ramps: int


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
    every = np.arange(LEAST_SEGMENT, count - LEAST_SEGMENT + 1)
    splits = every[:: -(-len(every) // _MOST_SPLITS)] if len(every) else every
    kept = splits[norms[splits] >= least * 0.999]
    if len(kept) == 0:  # strata follow each other without overlap: keep the best that there is
        kept = np.array([int(np.argmax(norms))])
    ramps = _templates(_ramps(count), strata, variances)
    stretches = _templates(_stretches(count), strata, variances)
    templates = np.vstack([ramps, stretches]).astype(np.float32)
    return Splits(kept, norms[kept].astype(np.float32), templates, len(ramps))


def _ramps(count: int) -> Floats:
    starts = np.array(_RAMP_STARTS)[:, None] * count
    ramps: Floats = np.maximum(0.0, np.arange(count, dtype=float) - starts)
    return ramps


def _stretches(count: int) -> Floats:
    """Stretches that begin and end inside the log; shape (n_stretches, n_values)."""
    cells = min(_MOST_CELLS, count // _RUNS_IN_CELL)
    borders = np.linspace(0, count, cells + 1).astype(int)
    first, last = np.triu_indices(max(cells - 1, 0), 1)
    time = np.arange(count)
    begun = time >= borders[1 + first][:, None]
    return (begun & (time < borders[1 + last][:, None])).astype(float)


def _templates(rows: Floats, strata: NDArray[np.intp], variances: Floats) -> Floats:
    """Rows centred within strata and of length 1; those that strata explain are left out."""
    if len(rows) == 0:
        return rows
    centred = centred_within(rows, strata)
    length = np.sqrt(((centred * np.sqrt(variances[strata])) ** 2).sum(axis=1))
    usable = length > 0.1 * length.max()
    unit: Floats = centred[usable] / length[usable, None]
    return unit


def evidence(
    series: Columns, place: Splits, centre: float = 0.0, weight: float = 1.0
) -> tuple[Columns, Columns]:
    r"""
    Weigh all changes of all forms against no change, for many series at once.

    With :math:`\phi` the lag-1 correlation and *n* values, the log likelihood gain of a change of
    level that explains the share :math:`R^2` of the variance is
    :math:`g = -\tfrac n2 \ln(1 - R^2) (1-\phi)/(1+\phi)`; that of a change of spread is the log
    likelihood ratio of the variance before and after, eight runs of variance 1 added to each side,
    times :math:`(1-\phi^2)/(1+\phi^2)`. The evidence is the log of the mean of :math:`e^g` over the
    places of each form, averaged over forms by prior weight: a mean over places finds more than
    the largest of them does (Andrews and Ploberger).

    Parameters
    ----------
    series : array, shape (n_values, n_series)
        Scores in time order, about mean 0.
    place : Splits
    centre, weight : float
        The correlation used is *weight* times the series' own and the rest of *centre*.

    Returns
    -------
    evidence : array, shape (n_series,)
        Large values speak for a change.
    phi : array, shape (n_series,)
        Each series' own lag-1 correlation, -1 to 1.

    References
    ----------
    D. W. K. Andrews and W. Ploberger (1994), Optimal tests when a nuisance parameter is present
    only under the alternative, Econometrica 62, 1383-1414.
    """
    sums = np.cumsum(series, axis=0)
    power = np.einsum("ij,ij->j", series, series)
    steps = sums[place.splits - 1] ** 2 / place.norms[:, None]
    fitted = place.templates @ series
    own = _lag_one(series, sums, power, steps, fitted, place)
    phi = np.clip(weight * own + (1.0 - weight) * centre, 0.0, HIGHEST_PHI).astype(series.dtype)
    likeness = (1.0 - phi) / (1.0 + phi)
    squares = fitted * fitted
    ramps, stretches = squares[: place.n_ramps], squares[place.n_ramps :]
    levels = {"step": steps, "ramp": ramps, "stretch": stretches}
    logs = [
        np.log(_PRIOR[form]) + _log_mean_exp(_level_gain(part / power, len(series), likeness))
        for form, part in levels.items()
        if len(part)
    ]
    spread = _spread_gain(np.cumsum(series * series, axis=0), place.splits)
    spread *= 0.5 * _SPREAD_POWER * (1.0 - phi**2) / (1.0 + phi**2)
    logs.append(np.log(_PRIOR["spread"]) + _log_mean_exp(spread))
    return np.logaddexp.reduce(np.array(logs), axis=0), own


def _level_gain(explained: Columns, count: int, likeness: Columns) -> Columns:
    """Gain in log likelihood from the share of the variance explained; same shape."""
    left = 1.0 - np.minimum(explained, np.float32(_LARGEST_SHARE))
    gain: Columns = np.log(left) * (np.float32(-0.5 * count) * likeness)
    return gain


def _log_mean_exp(gains: Columns) -> Columns:
    """Log of the mean of exp over places; shape (n_series,)."""
    top = gains.max(axis=0)
    mean: Columns = top + np.log(np.exp(gains - top).mean(axis=0))
    return mean


def _spread_gain(squares: Columns, splits: NDArray[np.intp]) -> Columns:
    """Twice the log likelihood ratio of two variances against one; shape (n_splits, n_series)."""
    count, pseudo = np.float32(len(squares)), np.float32(_SPREAD_PSEUDO_RUNS)
    scaled = squares[splits - 1] * (count / squares[-1])
    size = splits.astype(np.float32)[:, None]
    first, second = size + pseudo, count - size + pseudo
    before = scaled + pseudo
    after = (count + 2 * pseudo) - before
    gain: Columns = -first * np.log(before / first) - second * np.log(after / second)
    return gain


def _lag_one(
    series: Columns, sums: Columns, power: Columns, steps: Columns, fitted: Columns, place: Splits
) -> Columns:
    """Lag-1 correlation of what the better of the best step and template leaves over."""
    count, column = len(series), np.arange(series.shape[1])
    products = np.einsum("ij,ij->j", series[1:], series[:-1])
    which, best_step = steps.argmax(axis=0), steps.max(axis=0)
    template = np.abs(fitted).argmax(axis=0)
    slope = fitted[template, column]
    after_step = _lag_one_less_step(series, sums, place.splits[which], products)
    after_template = _lag_one_less_template(series, place.templates[template].T, slope, products)
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
