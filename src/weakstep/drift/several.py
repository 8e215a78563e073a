"""Several changes of level in one parameter: where they are, each confirmed on its own."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from weakstep.drift.describe import AS_GOOD
from weakstep.drift.null import orders_of, shared_orders
from weakstep.drift.scores import normal_scores, refiltered, stratum_variances, whitened
from weakstep.drift.splits import LEAST_SEGMENT, evidence, prepare

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Places = NDArray[np.intp]

MOST_CHANGES = 4
_FINEST = 300  # borders between segments that are tried
_ROUNDS = 3  # of fitting strata and segments in turn
# What the second change, and each further one, must gain, in ln n. The second was chosen on
# simulated logs of 150 runs: of single steps 3 to 7 % are then told as several changes.
_SECOND, _FURTHER = 1.75, 2.0
_CONFIRM = 0.1  # each change must be this unlikely by chance between its neighbours
_ORDERS = 399  # re-orderings for that


def several_steps(
    values: Floats, strata: Places, *, phi: float, better_than: float, seed: int
) -> tuple[int, ...]:
    r"""
    Find the places at which the level changed, where more than one change is needed.

    Least squares over all ways to cut the log into 2 to 5 segments of 5 values or more, each with
    its own level on top of the strata. A second change must add :math:`1.75 \ln n` to
    :math:`-n \ln(RSS) / \ell`, :math:`\ell = (1+\phi)/(1-\phi)`, beyond the best description by one
    change, each further one :math:`2 \ln n` (a size and a place that each count as a number). Every
    change must then be confirmed between its neighbours by re-ordering (10 %).

    Parameters
    ----------
    values : array, shape (n_values,)
        On the scale of the description; no NaN.
    strata : array of int, shape (n_values,)
    phi : float
        Lag-1 correlation.
    better_than : float
        What several changes must beat: twice the gain in log likelihood of the best single change,
        and as much more as they should need.
    seed : int
        Of the re-orderings.

    Returns
    -------
    tuple of int
        Place of the first value after each change; empty when one change is enough.

    References
    ----------
    I. E. Auger and C. E. Lawrence (1989), Algorithms for the optimal identification of segment
    neighborhoods, Bulletin of Mathematical Biology 51, 39-54.

    Examples
    --------
    >>> level = np.repeat([0.0, 5.0, 1.0], 20) + np.tile([0.0, 0.5], 30)
    >>> several_steps(level, np.zeros(60, int), phi=0.0, better_than=0.0, seed=0)
    (20, 40)
    """
    count = len(values)
    if count < 3 * LEAST_SEGMENT or _spread(values, strata) == 0.0:
        return ()
    best: tuple[float, tuple[int, ...]] = (better_than, ())
    for number in range(2, MOST_CHANGES + 1):
        left, places = _segments(values, strata, number)
        if len(places) < number:
            break
        price = (_SECOND + _FURTHER * (number - 2)) * math.log(count)
        score = _gain(values, strata, left, phi) - price
        if score > best[0]:
            best = (score, places)
    return _confirmed(values, strata, best[1], phi, seed)


def ramp_as_good(
    values: Floats, strata: Places, places: tuple[int, ...], *, phi: float, ramp: float
) -> bool:
    r"""
    Say whether one ramp describes changes that all go the same way within strata about as well.

    Its standing, the gain less :math:`\ln n` for each number, is then at most 6 lower than that of
    the changes, each of which counts as two numbers.

    Parameters
    ----------
    values : array, shape (n_values,)
        On the scale of the description; no NaN.
    strata : array of int, shape (n_values,)
    places : tuple of int
        Of the first value after each change.
    phi : float
        Lag-1 correlation.
    ramp : float
        Twice the gain in log likelihood of the best ramp.

    Returns
    -------
    bool
    """
    moves = np.diff(_levels_within(values, strata, places))
    if not ((moves > 0).all() or (moves < 0).all()):
        return False
    left, _ = _segments(values, strata, len(places))
    further = 2.0 * (len(places) - 1) * math.log(len(values))
    return _gain(values, strata, left, phi) - ramp - further <= AS_GOOD


def _spread(values: Floats, strata: Places) -> float:
    """Sum of squares about the means of the strata."""
    return float(((values - _stratum_means(values, strata)) ** 2).sum())


def _gain(values: Floats, strata: Places, left: float, phi: float) -> float:
    """Twice the gain in log likelihood of a description that leaves a sum of squares *left*."""
    likeness = (1.0 + phi) / (1.0 - phi)
    return -len(values) * math.log(max(left / _spread(values, strata), 1e-9)) / likeness


def _stratum_means(values: Floats, strata: Places) -> Floats:
    sums = np.bincount(strata, weights=values)
    means: Floats = (sums / np.maximum(np.bincount(strata), 1))[strata]
    return means


def _segments(values: Floats, strata: Places, number: int) -> tuple[float, tuple[int, ...]]:
    """Sum of squares and places of the best *number* changes, with one mean per stratum."""
    own = np.zeros(len(values)) if strata.max() == 0 else _stratum_means(values, strata)
    for _ in range(_ROUNDS if strata.max() > 0 else 1):
        left, places = _cut(values - own, number)
        inside = np.repeat(np.arange(len(places) + 1), np.diff([0, *places, len(values)]))
        level = _stratum_means(values - own, inside)
        own = own if strata.max() == 0 else _stratum_means(values - level, strata)
    return left, places


def _levels_within(values: Floats, strata: Places, places: tuple[int, ...]) -> Floats:
    """Least-squares level of each segment beside one mean per stratum, up to a constant."""
    inside = np.repeat(np.arange(len(places) + 1), np.diff([0, *places, len(values)]))
    members = [codes[:, None] == np.arange(codes.max() + 1) for codes in (inside, strata)]
    fitted: Floats = np.linalg.lstsq(np.hstack(members).astype(float), values)[0]
    return fitted[: len(places) + 1]


def _cut(values: Floats, number: int) -> tuple[float, tuple[int, ...]]:
    """Least squares with *number* changes of level, by dynamic programming over borders."""
    count = len(values)
    grid = max(1, -(-count // _FINEST))
    borders = np.unique(np.append(np.arange(0, count, grid), count))
    sums = np.concatenate([[0.0], np.cumsum(values)])[borders]
    squares = np.concatenate([[0.0], np.cumsum(values**2)])[borders]
    length = borders[None, :] - borders[:, None]
    inner = (sums[None, :] - sums[:, None]) ** 2 / np.maximum(length, 1)
    cost = squares[None, :] - squares[:, None] - inner
    cost[length < LEAST_SEGMENT] = np.inf
    best, chosen = cost[0], []
    for _ in range(number):
        through = best[:, None] + cost
        chosen.append(through.argmin(axis=0))
        best = through.min(axis=0)
    if not np.isfinite(best[-1]):
        return math.inf, ()
    place, places = len(borders) - 1, []
    for step in reversed(chosen):
        place = int(step[place])
        places.append(int(borders[place]))
    return float(best[-1]), tuple(reversed(places))


def _confirmed(
    values: Floats, strata: Places, places: tuple[int, ...], phi: float, seed: int
) -> tuple[int, ...]:
    """Leave out changes that re-ordering between their neighbours explains; () if one is left."""
    kept = list(places)
    while len(kept) >= 2:
        ends = [0, *kept, len(values)]
        chances = [
            _chance(values[ends[i] : ends[i + 2]], strata[ends[i] : ends[i + 2]], phi, seed)
            for i in range(len(kept))
        ]
        worst = int(np.argmax(chances))
        if chances[worst] <= _CONFIRM:
            return tuple(kept)
        del kept[worst]
    return ()


def _chance(values: Floats, strata: Places, phi: float, seed: int) -> float:
    """P of any change within one part of the log."""
    codes = np.unique(strata, return_inverse=True)[1]
    scores = normal_scores(values, codes)
    if not scores.any():
        return 1.0
    split = prepare(codes, stratum_variances(scores, codes))
    observed = evidence(scores.astype(np.float32)[:, None], split, phi)
    every = np.ones(len(values), dtype=bool)
    orders = orders_of(shared_orders(codes, _ORDERS, seed), every, codes)
    again = whitened(scores, phi).astype(np.float32)[orders]
    null = evidence(refiltered(again, phi), split, phi)
    return float((1 + (null >= observed[0]).sum()) / (1 + _ORDERS))
