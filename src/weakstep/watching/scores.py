"""New values made comparable: sequential scores, standard normal while nothing changes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

_VOUCHED, _LEARNED = 0.5, 0.1  # of a value that is expected further out than scores reach
_TELLING = 60  # values, from which on a law that looks normal is ever more likely to be so
_WANDERED = 5.0  # score beyond which it does not matter how far
_EVEN = 4000  # equally likely values that stand for the normal law


def cut(scores: Floats, known: int, *, normal: bool) -> Floats:
    """
    Cut scores by mean and standard deviation at `furthest_score`; those by ranks are bounded.

    Examples
    --------
    >>> cut(np.array([9.0, 1.0]), 100, normal=True).round(2).tolist()
    [2.91, 1.0]
    """
    if not normal:
        return scores
    furthest = furthest_score(known)
    return np.asarray(np.clip(scores, -furthest, furthest))


def without_memory(
    values: ArrayLike,
    memory: ArrayLike,
    before: ArrayLike,
    *,
    middle: ArrayLike = 0.0,
    step: ArrayLike = 0.0,
) -> Floats:
    r"""
    Take out of each value what the one before it tells: :math:`y_t = x_t - \phi (x_{t-1} - m)`.

    Coarsely rounded values stay so: their ties, broken by the value before, would tell as much of
    it as the memory of rounded values never does.

    Parameters
    ----------
    values : array_like, shape (n_values, ...)
        In time order; no NaN.
    memory : array_like, shape (...)
        :math:`\phi`.
    before : array_like, shape (...)
        The value before the first.
    middle : array_like, shape (...)
        *m*, one of the values where there is a step.
    step : array_like, shape (...)
        That values are rounded to; 0 where they are not.

    Returns
    -------
    array, shape (n_values, ...)

    Examples
    --------
    >>> without_memory([3.0, 4.0], 0.5, 2.0).tolist()
    [2.0, 2.5]
    >>> without_memory([3.0, 4.0], 0.1, 2.0, middle=3.0, step=1.0).tolist()
    [3.0, 4.0]
    """
    row = np.asarray(values, dtype=float)
    earlier = np.concatenate([np.asarray(before, dtype=float)[None], row[:-1]])
    centre, size = np.asarray(middle, dtype=float), np.asarray(step, dtype=float)
    freed = row - np.asarray(memory, dtype=float) * (earlier - centre)
    fine = np.where(size > 0.0, size, 1.0)
    rounded = centre + np.round((freed - centre) / fine) * fine
    return np.asarray(np.where(size > 0.0, rounded, freed))


def furthest_score(known: int) -> float:
    """
    Return how far from 0 a score by mean and standard deviation counts; further ones count as this.

    Where half a value of *known* ones is expected beyond, on either side, nobody has seen them to
    be normal. From 60 values on tests tell heavy tails ever better, and the share falls with the
    square of their number to a tenth of a value.

    Examples
    --------
    >>> [round(furthest_score(known), 2) for known in (60, 100, 300, 1000)]
    [2.39, 2.91, 3.4, 3.72]
    """
    return _beyond(known, max(_LEARNED, _VOUCHED * min(1.0, _TELLING / known) ** 2))


def _beyond(known: int, values: float) -> float:
    """Score beyond which so many of *known* values are expected on either side."""
    from scipy.special import ndtri

    return float(-ndtri(values / known))


def sequential_scores(known: ArrayLike, coming: ArrayLike, *, normal: bool) -> Floats:
    r"""
    Score each new value against all values before it, those of the baseline and new ones.

    By mean and standard deviation, :math:`\Phi^{-1}(F_{t, n-1}(\sqrt{n/(n+1)}
    (x - \bar x_n) / s_n))` (Hawkins 1987, the *t* law by Wallace's formula): independent standard
    normal, exactly, for independent normal values of any mean and spread. A value further out than
    a tenth of one is expected is taken in as if it lay there. By ranks, with *r* of *n* values
    below, :math:`\Phi^{-1}((r + 1/2) / (n + 1))`, averaged over ties: sequential ranks are
    independent whatever the distribution. So limits do not depend on the length of the baseline.

    Parameters
    ----------
    known : array_like, shape (n_known, ...)
        At least 3 that differ; no NaN.
    coming : array_like, shape (n_coming, ...)
        In time order; no NaN.
    normal : bool
        By mean and standard deviation, else by ranks.

    Returns
    -------
    array, shape (n_coming, ...)

    References
    ----------
    D. M. Hawkins (1987), Self-starting CUSUM charts for location and scale, The Statistician 36,
    299-315. D. L. Wallace (1959), Bounds on normal approximations to Student's and the chi-square
    distributions, Annals of Mathematical Statistics 30, 1121-1130 (from memory). O.
    Barndorff-Nielsen (1963), On the limit behaviour of extreme order statistics, Annals of
    Mathematical Statistics 34, 992-1002 (independence of sequential ranks, from memory).

    Examples
    --------
    >>> sequential_scores([1.0, 2.0, 3.0], [4.0, 0.0], normal=False).round(2).tolist()
    [1.15, -1.28]
    >>> sequential_scores(np.arange(9.0), [4.0, 9.0], normal=True).round(2).tolist()
    [0.0, 1.65]
    """
    before, new = np.asarray(known, dtype=float), np.asarray(coming, dtype=float)
    if not len(new):
        return np.zeros(new.shape)
    return _by_spread(before, new) if normal else _by_ranks(before, new)


def _by_spread(known: Floats, coming: Floats) -> Floats:
    count = len(known)
    furthest = _beyond(count, _LEARNED)
    mean = known.mean(axis=0)
    squares = ((known - mean) ** 2).sum(axis=0)
    scores = np.empty(coming.shape)
    for place, value in enumerate(coming):
        error = np.sqrt(squares / (count - 1.0) * (count + 1.0) / count)
        ratio = np.clip((value - mean) / error, -1e9, 1e9)
        scores[place] = _normal_of_t(ratio, count - 1.0)
        step = np.clip(ratio, -furthest, furthest) * error
        mean = mean + step / (count + 1.0)
        squares = squares + step * step * count / (count + 1.0)
        count += 1
    return scores


def _normal_of_t(t: Floats, freedom: float) -> Floats:
    """Turn a t value into a normal score by Wallace's formula, exact to 0.02 / sqrt(freedom)."""
    size = np.sqrt(freedom * np.log1p(t * t / freedom)) * (8.0 * freedom + 1.0)
    return np.asarray(np.sign(t) * size / (8.0 * freedom + 3.0))


def _by_ranks(known: Floats, coming: Floats) -> Floats:
    count = len(known)
    seen = np.concatenate([known, coming])
    scores = np.empty(coming.shape)
    for place, value in enumerate(coming):
        before = seen[: count + place]
        below, equal = (before < value).sum(axis=0), (before == value).sum(axis=0)
        scores[place] = _tied(below, equal + 1, count + place + 1)
    return scores


def _tied(below: NDArray[np.intp], equal: NDArray[np.intp], count: int) -> Floats:
    """Mean normal score of the *equal* places that follow *below* others among *count*."""
    from scipy.special import ndtri

    cumulated = np.concatenate([[0.0], np.cumsum(ndtri((np.arange(count) + 0.5) / count))])
    return np.asarray((cumulated[below + equal] - cumulated[below]) / equal)


def baseline_scores(known: ArrayLike, *, normal: bool) -> Floats:
    """
    Score the values of a baseline among themselves: by mean and standard deviation, or by ranks.

    Parameters
    ----------
    known : array_like, shape (n_known, ...)
    normal : bool

    Examples
    --------
    >>> baseline_scores([1.0, 5.0, 5.0, 7.0], normal=False).round(2).tolist()
    [-1.15, 0.0, 0.0, 1.15]
    """
    from scipy.stats import rankdata

    row = np.asarray(known, dtype=float)
    if normal:
        return np.asarray((row - row.mean(axis=0)) / row.std(axis=0, ddof=1))
    low = rankdata(row, "min", axis=0).astype(np.intp) - 1
    return _tied(low, rankdata(row, "max", axis=0).astype(np.intp) - low, len(row))


def score_law(known: ArrayLike, *, normal: bool) -> tuple[Floats, Floats]:
    """
    Return the law of scores while nothing changes: values, and the chance of each.

    Parameters
    ----------
    known : array_like, shape (n_known, ...)
    normal : bool
        The normal law cut at `furthest_score`, else the baseline's own scores by ranks.

    Returns
    -------
    scores : array, shape (n_scores, ...) or, by mean and standard deviation, (n_scores, 1, ...)
    chances : array, shape (n_scores,)

    Examples
    --------
    >>> scores, chances = score_law([1.0, 5.0, 5.0, 7.0], normal=False)
    >>> scores.round(2).tolist(), chances.tolist()
    ([-1.15, 0.0, 0.0, 1.15], [0.25, 0.25, 0.25, 0.25])
    """
    from scipy.special import ndtri

    row = np.asarray(known, dtype=float)
    if not normal:
        return baseline_scores(row, normal=False), np.full(len(row), 1.0 / len(row))
    even = ndtri((np.arange(_EVEN) + 0.5) / _EVEN)
    law = cut(even, len(row), normal=True).reshape(-1, *(1 for _ in row.shape[1:]))
    return law, np.full(_EVEN, 1.0 / _EVEN)


def steady_scores(known: Floats, values: Floats, *, normal: bool) -> Floats:
    """
    Score values against a baseline alone, as neighbours are compared by.

    How far values go with the ones before shows where they wander off, too: so these scores are
    not bounded by ranks, but go on beyond the baseline's ends by its standard deviation, up to 5.

    Parameters
    ----------
    known : array, shape (n_known,)
    values : array, shape (n_values,)
    normal : bool
        By mean and standard deviation; else between the baseline's own scores by ranks.

    Returns
    -------
    array, shape (n_values,)

    Examples
    --------
    >>> known = np.array([1.0, 3.0, 5.0, 7.0])
    >>> steady_scores(known, np.array([4.0, 7.0, 99.0]), normal=False).round(2).tolist()
    [0.0, 1.15, 5.0]
    """
    deviation = known.std(ddof=1)
    if normal:
        scores = (values - known.mean()) / deviation
    else:
        places, first = np.unique(known, return_index=True)
        scores = np.interp(values, places, baseline_scores(known, normal=False)[first])
        scores += (values - np.clip(values, places[0], places[-1])) / deviation
    return np.asarray(np.clip(scores, -_WANDERED, _WANDERED))
