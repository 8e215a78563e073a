"""The sums of a parameter: upwards, downwards and of its spread, from every possible start."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.watching.limits import FAST, SLOW, ColumnLimits, head_start

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

# Mean and sd of sqrt |z| for a standard normal z.
ROOT_MEAN, ROOT_SD = 0.822179, 0.349143
WAYS = ("higher", "lower", "higher", "lower", "more spread")
ALLOWANCES = (SLOW, SLOW, FAST, FAST, SLOW)


def spread_scores(scores: ArrayLike) -> Floats:
    r"""
    Turn scores into ones that rise when the spread does: :math:`(\sqrt{|z|} - 0.822) / 0.349`.

    Nearly standard normal while z is.

    References
    ----------
    D. M. Hawkins (1981), A CUSUM for a scale parameter, Journal of Quality Technology 13, 228-231.

    Examples
    --------
    >>> spread_scores([0.0, 1.0]).round(2).tolist()
    [-2.35, 0.51]
    """
    return np.asarray((np.sqrt(np.abs(np.asarray(scores, dtype=float))) - ROOT_MEAN) / ROOT_SD)


def column_sums(
    scores: Floats, known: int, stretch: ArrayLike = 1.0, *, ahead: bool = True
) -> Floats:
    r"""
    Five sums of sequential scores, each the largest over all possible starts of a change.

    A score holds its value against all before it. When the level moves by :math:`\delta` after
    :math:`m` values, those that follow are taken in, too, so that the *j*-th score rises only by
    :math:`\delta c_j`, :math:`c_j = m / \sqrt{(j - 1) j}`, *j* counted from the baseline's first
    value. The log likelihood ratio of a start is :math:`\delta (\sum c_j u_j - k \sum c_j^2)`,
    :math:`k = \delta / 2`; the sum is the bracket's maximum over starts, never below 0. The first
    start is `head_start` ahead of the others. With a long baseline :math:`c_j = 1` and it is
    Page's cumulative sum with allowance *k*.

    Parameters
    ----------
    scores : array, shape (n_runs, ...)
        Of `weakstep.watching.scores.sequential_scores`; no NaN.
    known : int
        Values before the first of them.
    stretch : array_like, shape (...)
        Factor of the scores in the sums of level (`weakstep.watching.scores.stretch_of`).
    ahead : bool, default True
        Whether the first start is ahead; without, they are the plain sums.

    Returns
    -------
    array, shape (n_runs, 5, ...)
        Up and down with allowance 0.5, up and down with 1, spread; in sigmas.

    References
    ----------
    E. S. Page (1954), Continuous inspection schemes, Biometrika 41, 100-115. D. M. Hawkins (1987),
    Self-starting CUSUM charts for location and scale, The Statistician 36, 299-315.

    Examples
    --------
    >>> column_sums(np.array([2.0, 2.0, -1.0]), 1_000_000)[:, :4].round(2).tolist()
    [[3.8, 0.0, 2.15, 0.0], [5.3, 0.0, 3.15, 0.0], [3.8, 0.5, 1.15, 0.0]]
    """
    runs, rest = len(scores), scores.shape[1:]
    found = np.zeros((runs, len(WAYS), *rest))
    weighted, weight = np.zeros(scores.shape), np.zeros((runs, *(1 for _ in rest)))
    before = known + np.arange(runs, dtype=float)
    spread = np.full(rest, head_start(SLOW) if ahead else 0.0)
    stretched, spreads = scores * np.asarray(stretch, dtype=float), spread_scores(scores) - SLOW
    for run in range(runs):
        c = (before[: run + 1] / np.sqrt((known + run) * (known + run + 1.0))).reshape(
            -1, *(1 for _ in rest)
        )
        starts, sizes = weighted[: run + 1], weight[: run + 1]
        starts += c * stretched[run]
        sizes += c * c
        for place, allowance in enumerate((SLOW, FAST)):
            cost = allowance * sizes
            cost[0] -= head_start(allowance) if ahead else 0.0
            found[run, 2 * place] = (starts - cost).max(axis=0)
            found[run, 2 * place + 1] = (-starts - cost).max(axis=0)
        spread = np.maximum(0.0, spread + spreads[run])
        found[run, 4] = spread
    return np.maximum(found, 0.0)


def start_of(scores: Floats, known: int, place: int, stretch: float = 1.0) -> int:
    """
    Return where a sum that has just passed its limit most likely began, no start being ahead.

    Parameters
    ----------
    scores : array, shape (n_runs,)
        Up to the run at which it passed.
    known : int
        Values before the first of them.
    place : int
        Of the sum among the five.
    stretch : float

    Examples
    --------
    >>> start_of(np.array([-1.0, 0.2, 2.0, 2.0]), 100, 0)
    2
    """
    if WAYS[place] == "more spread":
        walk = np.cumsum(spread_scores(scores) - SLOW)
        return int(np.argmin(np.concatenate([[0.0], walk[:-1]])))
    last = known + np.arange(len(scores), dtype=float)
    rows = last[:, None] / np.sqrt(last * (last + 1.0))
    rows = np.triu(rows)  # starts x runs: nothing before a start
    signed = scores * stretch * (1.0 if WAYS[place] == "higher" else -1.0)
    gains = rows @ signed - ALLOWANCES[place] * (rows**2).sum(axis=1)
    return int(np.argmax(gains))


def sum_steps(scores: Floats) -> Floats:
    """
    Return what each score adds to the five sums, before any is learned from.

    Examples
    --------
    >>> sum_steps(np.array([2.0])).round(2)[:, 0].tolist()
    [1.5, -2.5, 1.0, -3.0, 1.2]
    """
    ways = np.stack([scores, -scores, scores, -scores, spread_scores(scores)])
    return np.asarray(ways - np.array(ALLOWANCES).reshape(-1, *(1 for _ in scores.shape)))


def sum_limits(limits: ColumnLimits) -> Floats:
    """
    Limits of the five sums.

    Examples
    --------
    >>> sum_limits(ColumnLimits(10.0, 5.0, 9.0)).tolist()
    [10.0, 10.0, 5.0, 5.0, 9.0]
    """
    return np.array([limits.slow, limits.slow, limits.fast, limits.fast, limits.spread])


def passes(sums: Floats, limits: ColumnLimits) -> NDArray[np.bool_]:
    """
    Tell which sums of `column_sums`, shape (n_runs, 5, ...), are above their limits.

    Examples
    --------
    >>> passes(np.full((1, 5), 8.0), ColumnLimits(10.0, 5.0, 9.0)).tolist()
    [[False, False, True, True, False]]
    """
    at = sum_limits(limits).reshape(1, -1, *(1 for _ in sums.shape[2:]))
    return np.asarray(sums > at)


def sums_of(
    steps: Iterable[float], limit: float, starts: NDArray[np.bool_]
) -> list[tuple[int, int]]:
    """
    Cumulate steps to sums from 0 up; return (where it began, where it passed) of each signal.

    Parameters
    ----------
    steps : array, shape (n_points,)
    limit : float
    starts : array of bool, shape (n_points,)
        Points before which the sum starts anew.

    Examples
    --------
    >>> sums_of(np.array([-1.0, 2.0, 2.0, 2.0, 2.0]), 3.5, np.zeros(5, dtype=bool))
    [(1, 2), (3, 4)]
    """
    found = []
    total, began = 0.0, 0
    for place, step in enumerate(steps):
        if starts[place]:
            total = 0.0
        if total <= 0.0:
            began = place
        total = max(0.0, total + float(step))
        if total > limit:
            found.append((began, place))
            total = 0.0
    return found
