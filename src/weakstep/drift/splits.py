"""Evidence for a change of any form at any place of a log, for many orders at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.drift.scores import whitened

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Columns = NDArray[np.floating]  # float32: many series at once, and half the memory

FORMS = ("step", "ramp", "stretch", "spread")
LEAST_SEGMENT = 5  # runs on each side of a split
_RAMP_STARTS = (0.0, 0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.8)  # shares of the log
_MOST_SPLITS = 50  # evenly spaced; neighbours say nearly the same, and time is saved
_MOST_CELLS = 8  # stretches begin and end at the borders of so many cells of at least 5 runs
_RUNS_IN_CELL = 5
# Standard deviation of a change beforehand, in standard deviations of the parameter: of a step, of
# the whole rise of a ramp to the end of the log, of a stretch; of a change of spread, in the
# logarithm of the variance. Noise near the ends of the log, where only large changes could show,
# then weighs little.
_SIZE = {"step": 1.0, "ramp": 1.2, "stretch": 1.0, "spread": 0.7}
# How likely each form is beforehand. Ramps also see steps; changes of spread are harder to see than
# changes of level, so they get more than their due. Chosen among a few by power in simulated series
# of 40 to 300 normal values.
_PRIOR = {"step": 0.25, "ramp": 0.26, "stretch": 0.04, "spread": 0.45}
_SPREAD_PSEUDO_RUNS = 1.0  # of variance 1 on each side of a split
_LARGEST_SHARE = 0.95  # of the variance that a change of level may explain in the likelihood


@dataclass(frozen=True, eq=False)
class Splits:
    """
    All that the statistics need to know about one parameter's place in the log.

    Attributes
    ----------
    splits : array of int, shape (n_splits,)
        Values before each split that is looked at.
    norms : array, shape (n_splits,)
        Variance of the sum of scores before the split when scores are re-ordered within strata:
        what the log can tell of a step there, in runs.
    weights : array, shape (n_splits,)
        How likely each split is beforehand, in proportion to the root of what the log can tell.
    before : array, shape (n_splits, n_values)
        1 before each split, else 0.
    ramps, stretches : Templates
        Ramps; stretches that come and go.
    """

    splits: NDArray[np.intp]
    norms: Columns
    weights: Columns
    before: Columns
    ramps: Templates
    stretches: Templates


@dataclass(frozen=True, eq=False)
class Templates:
    """
    Changes of one form.

    Attributes
    ----------
    rows : array, shape (n_templates, n_values)
        Centred within strata and of length 1.
    norms : array, shape (n_templates,)
        Squared length of a change of size 1: what the log can tell of it, in runs.
    """

    rows: Columns
    norms: Columns


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
    weights = np.sqrt(np.maximum(norms[kept], 1e-9))
    return Splits(
        splits=kept,
        norms=norms[kept].astype(np.float32),
        weights=(weights / weights.sum()).astype(np.float32),
        before=(np.arange(count) < kept[:, None]).astype(np.float32),
        ramps=_templates(_ramps(count), strata, variances),
        stretches=_templates(_stretches(count), strata, variances),
    )


def _ramps(count: int) -> Floats:
    """Ramps that reach 1 at the end of the log; shape (n_ramps, n_values)."""
    starts = np.array(_RAMP_STARTS)[:, None] * count
    ramps: Floats = np.maximum(0.0, np.arange(count, dtype=float) - starts)
    return ramps / np.maximum(ramps[:, -1:], 1e-9)


def _stretches(count: int) -> Floats:
    """Stretches that begin and end inside the log; shape (n_stretches, n_values)."""
    cells = min(_MOST_CELLS, count // _RUNS_IN_CELL)
    borders = np.linspace(0, count, cells + 1).astype(int)
    first, last = np.triu_indices(max(cells - 1, 0), 1)
    time = np.arange(count)
    begun = time >= borders[1 + first][:, None]
    return (begun & (time < borders[1 + last][:, None])).astype(float)


def _templates(rows: Floats, strata: NDArray[np.intp], variances: Floats) -> Templates:
    """Rows centred within strata and of length 1; those that strata explain are left out."""
    centred = centred_within(rows, strata)
    norms = ((centred * np.sqrt(variances[strata])) ** 2).sum(axis=1)
    usable = norms > 0.01 * norms.max(initial=0.0)
    unit = centred[usable] / np.sqrt(norms[usable])[:, None]
    return Templates(unit.astype(np.float32), norms[usable].astype(np.float32))


def evidence(series: Columns, place: Splits, phi: float, toward_spread: float = 0.0) -> Columns:
    r"""
    Weigh all changes of all forms against no change, for many series at once.

    With :math:`\phi` the lag-1 correlation and *n* values, a change of level that explains the
    share :math:`R^2` of the variance gains :math:`g = -\tfrac n2 \ln(1 - R^2) (1-\phi)/(1+\phi)`
    in log likelihood. With its size normal beforehand about 0 with standard deviation
    :math:`\tau`, and *m* runs' worth of knowledge about it, its Bayes factor against no change is
    about :math:`e^{g K / (1 + K)} / \sqrt{1 + K}`, :math:`K = m \tau^2`. For a change of spread
    *g* is the log likelihood ratio of the variances of the innovations before and after, one run of
    variance 1 added to each side, and :math:`K = m \tau^2 / 2`, the log of a variance being known
    half as well. The evidence is the log of the mean factor over the places of each form, averaged
    over forms by prior weight: a mean over places finds more than the largest of them does (Andrews
    and Ploberger).

    Parameters
    ----------
    series : array, shape (n_values, n_series)
        Scores in time order, about mean 0.
    place : Splits
    phi : float
        Lag-1 correlation, 0 to below 1.
    toward_spread : float
        Log of how much likelier than usual a change of spread is beforehand
        (`weakstep.drift.tails`).

    Returns
    -------
    array, shape (n_series,)
        Large values speak for a change.

    References
    ----------
    D. W. K. Andrews and W. Ploberger (1994), Optimal tests when a nuisance parameter is present
    only under the alternative, Econometrica 62, 1383-1414.
    """
    power = np.einsum("ij,ij->j", series, series)
    steps = (place.before @ series) ** 2 / place.norms[:, None]
    explained = {"step": (steps, place.norms)}
    for form, template in (("ramp", place.ramps), ("stretch", place.stretches)):
        explained[form] = ((template.rows @ series) ** 2, template.norms)
    likeness = (1.0 - phi) / (1.0 + phi)
    logs = []
    for form, (part, norms) in explained.items():
        if len(part) == 0:
            continue
        weights = place.weights if form == "step" else np.full(len(part), 1.0 / len(part))
        gain = _level_gain(part / power, len(series) * likeness, norms * _SIZE[form] ** 2)
        logs.append(np.log(_PRIOR[form]) + _log_mean_exp(gain, weights))
    innovations = whitened(series, phi) if phi > 0.0 else series
    spread = _spread_evidence(innovations * innovations, place)
    logs.append(spread + np.float32(np.log(_PRIOR["spread"]) + toward_spread))
    total: Columns = np.logaddexp.reduce(np.array(logs), axis=0)
    return total


def _level_gain(explained: Columns, count: float, knowledge: Columns) -> Columns:
    """Log Bayes factor from the share of the variance explained; same shape."""
    left = 1.0 - np.minimum(explained, np.float32(_LARGEST_SHARE))
    return _log_factor(np.log(left), -0.5 * count, knowledge)


def _log_factor(gain: Columns, scale: float, knowledge: Columns) -> Columns:
    """Log Bayes factor from *scale* times the gain, its size unknown beforehand; same shape."""
    shrunk = (scale * knowledge / (1.0 + knowledge)).astype(np.float32)
    factor: Columns = gain * shrunk[:, None]
    factor -= 0.5 * np.log1p(knowledge)[:, None]
    return factor


def _log_mean_exp(gains: Columns, weights: Columns) -> Columns:
    """Log of the weighted mean of exp over places; shape (n_series,)."""
    top = gains.max(axis=0)
    mean: Columns = top + np.log(weights.astype(gains.dtype) @ np.exp(gains - top))
    return mean


def _spread_evidence(squares: Columns, place: Splits) -> Columns:
    """Log of the mean Bayes factor of two variances against one; shape (n_series,)."""
    count, pseudo = np.float32(len(squares)), np.float32(_SPREAD_PSEUDO_RUNS)
    scaled = (place.before @ squares) * (count / squares.sum(axis=0))
    size = place.splits.astype(np.float32)[:, None]
    first, second = size + pseudo, count - size + pseudo
    gain = first * np.log((scaled + pseudo) / first)
    gain += second * np.log((count - scaled + pseudo) / second)
    knowledge = 0.5 * place.norms * _SIZE["spread"] ** 2
    return _log_mean_exp(_log_factor(gain, -0.5, knowledge), place.weights)
