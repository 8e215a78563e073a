"""Limits solved for a stated chance of any false alarm in a semester, over all charts together."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SLOW, FAST = 0.5, 1.0  # allowances: best for shifts of 1 and of 2 sigmas
FOR_COLUMNS, FOR_FAILURES, FOR_JOINT = 0.8, 0.1, 0.1  # shares of the chance
# Mean and sd of sqrt |z| for a standard normal z.
ROOT_MEAN, ROOT_SD = 0.822179, 0.349143
_SIMULATED = 12_000
_RATES = 400  # failure rates that stand for all a baseline leaves open
_SHORTEST, _RATIO = 25, 1.5  # lengths of baselines that are simulated; others lie between


@dataclass(frozen=True)
class ColumnLimits:
    """Decision limits of a parameter's sums, in sigmas: slow, fast (both ways) and spread."""

    slow: float
    fast: float
    spread: float


def spread_scores(scores: Floats) -> Floats:
    r"""
    Turn scores into ones that rise when the spread does: :math:`(\sqrt{|z|} - 0.822) / 0.349`.

    Nearly standard normal while z is.

    References
    ----------
    D. M. Hawkins (1981), A CUSUM for a scale parameter, Journal of Quality Technology 13, 228-231.

    Examples
    --------
    >>> spread_scores(np.array([0.0, 1.0])).round(2).tolist()
    [-2.35, 0.51]
    """
    return np.asarray((np.sqrt(np.abs(scores)) - ROOT_MEAN) / ROOT_SD)


def column_limits(values: int, runs: int, chance: float, *, normal: bool) -> ColumnLimits:
    """
    Solve the limits of one parameter's five sums for the chance that any signals.

    Stable semesters are drawn together with the baselines they are scored by (fixed seed), so that
    what a short baseline leaves open is allowed for: the chance holds on the average over
    baselines. The five sums take equal parts of it; tails are smoothed.

    Parameters
    ----------
    values : int
        Of the baseline; limits lie between those of lengths 25, 38, 56 ... along 1 / length.
    runs : int
        Length of a semester; taken up to a multiple of 10.
    chance : float
        Of any signal of a stable parameter within them.
    normal : bool
        Scored by mean and standard deviation, else by ranks.

    Returns
    -------
    ColumnLimits

    References
    ----------
    Jensen, W. A., Jones-Farmer, L. A., Champ, C. W. & Woodall, W. H. (2006), Effects of parameter
    estimation on control chart properties: a literature review, Journal of Quality Technology 38,
    349-364.

    Examples
    --------
    >>> limits = column_limits(100, 100, 0.01, normal=True)
    >>> 8.0 < limits.slow < 12.0, 4.0 < limits.fast < 6.5
    (True, True)
    """
    place = math.log(max(values, _SHORTEST) / _SHORTEST) / math.log(_RATIO)
    near = [round(_SHORTEST * _RATIO**step) for step in (math.floor(place), math.ceil(place))]
    ends = [_solved(count, 10 * math.ceil(runs / 10), chance, normal) for count in near]
    if near[0] == near[1]:
        return ends[0]
    share = (1.0 / near[0] - 1.0 / max(values, near[0])) / (1.0 / near[0] - 1.0 / near[1])
    return ColumnLimits(
        **{
            name: (1.0 - share) * getattr(ends[0], name) + share * getattr(ends[1], name)
            for name in ("slow", "fast", "spread")
        }
    )


@lru_cache(maxsize=64)
def _solved(values: int, runs: int, chance: float, normal: bool) -> ColumnLimits:
    highest = _highest_sums(values, runs, normal)
    tails = {name: _tail(sums) for name, sums in highest.items()}
    levels = np.minimum.reduce([tails[name].log_chance(sums) for name, sums in highest.items()])
    # Log level at which any of the five signals as often as asked, smoothed in the same way.
    slope, start = np.polyfit(np.log(_CHANCES), np.quantile(levels, _CHANCES), 1)
    level = float(slope * np.log(chance) + start)
    return ColumnLimits(**{name: tail.limit(level) for name, tail in tails.items()})


_CHANCES = np.geomspace(0.0008, 0.04, 24)


@dataclass(frozen=True, eq=False)
class _Tail:
    """Log chance of passing a limit as a falling polynomial of the limit's logarithm."""

    curve: Floats
    lowest: float

    def log_chance(self, sums: Floats) -> Floats:
        """Return the log chance of passing each of *sums*; 0 below the tail."""
        inside = np.maximum(sums, self.lowest)
        return np.where(sums < self.lowest, 0.0, np.polyval(self.curve, np.log(inside)))

    def limit(self, level: float) -> float:
        """Return the limit whose log chance is *level*."""
        grid = np.geomspace(self.lowest, 5.0 * self.lowest, 4000)
        return float(grid[int(np.argmin(np.abs(self.log_chance(grid) - level)))])


def _tail(sums: Floats) -> _Tail:
    limits = np.quantile(sums, 1.0 - _CHANCES)
    curve = np.polyfit(np.log(limits), np.log(_CHANCES), 2)
    if curve[0] > 0.0 or -curve[1] / (2.0 * curve[0]) > np.log(
        limits[-1]
    ):  # it would turn up again
        curve = np.polyfit(np.log(limits), np.log(_CHANCES), 1)
    return _Tail(np.asarray(curve), float(limits.min()))


@lru_cache(maxsize=32)
def _highest_sums(values: int, runs: int, normal: bool) -> dict[str, Floats]:
    """Highest value of each kind of sum in simulated stable semesters, the two ways together."""
    rng = np.random.default_rng(20_011)
    score = _scoring(rng, values, normal)
    sums, highest = np.zeros((5, _SIMULATED)), np.zeros((5, _SIMULATED))
    allowance = np.array([SLOW, SLOW, FAST, FAST, SLOW])[:, None]
    for _ in range(runs):
        z = score(rng.standard_normal(_SIMULATED))
        sums += np.stack([z, -z, z, -z, spread_scores(z)]) - allowance
        np.maximum(sums, 0.0, out=sums)
        np.maximum(highest, sums, out=highest)
    return {
        "slow": highest[:2].max(axis=0),
        "fast": highest[2:4].max(axis=0),
        "spread": highest[4],
    }


def _scoring(rng: np.random.Generator, values: int, normal: bool) -> Callable[[Floats], Floats]:
    """Draw a baseline for each semester; return what scores a new value of each by it."""
    from scipy.special import ndtri

    if normal:
        mean = rng.standard_normal(_SIMULATED) / np.sqrt(values)
        deviation = np.sqrt(rng.chisquare(values - 1, _SIMULATED) / (values - 1))
        return lambda z: np.asarray((z - mean) / deviation)
    known = rng.standard_normal((values, _SIMULATED))
    told = ndtri((np.arange(values + 1) + 0.5) / (values + 1.0))
    return lambda z: np.asarray(told[(known < z).sum(axis=0)])


def share_of(chance: float, share: float, charts: int = 1) -> float:
    """
    Return the chance each of several charts may take: those of all join to *share* of *chance*.

    Examples
    --------
    >>> round(share_of(0.05, 0.8, 20), 5)
    0.00204
    """
    return float(1.0 - (1.0 - chance * share) ** (1.0 / max(1, charts)))


def failure_limit(
    failed: NDArray[np.int_],
    tested: NDArray[np.int_],
    correlation: float,
    weights: tuple[float, float],
    *,
    runs: int,
    chance: float,
    seed: int = 20_021,
    semesters: int = 20_000,
) -> float:
    r"""
    Limit of the failure sum for the chance of a signal while nothing changes.

    Semesters are drawn as they may come: the failure rate from what the baseline leaves open
    (a beta law of its counts, divided by the design effect, drawn within 400 equally likely parts),
    runs of the baseline's sizes, chips of one run failing together (beta-binomial).

    Parameters
    ----------
    failed, tested : array of int, shape (n_runs,)
        Of the baseline.
    correlation : float
        Of chips within a run.
    weights : tuple of two floats
        What a failed and a good chip add to the sum.
    runs : int
    chance : float
    seed, semesters : int

    Returns
    -------
    float
    """
    from scipy.special import betaincinv

    rng = np.random.default_rng(seed)
    sizes, often = np.unique(tested[tested > 0], return_counts=True)
    typical = float((often * sizes**2).sum() / (often * sizes).sum())
    effect = 1.0 + (typical - 1.0) * correlation
    lost, good = float(failed.sum()) / effect, float(tested.sum() - failed.sum()) / effect
    places = (np.arange(_RATES) + rng.random(_RATES)) / _RATES
    rates = np.asarray(betaincinv(lost + 0.5, good + 0.5, places), dtype=float)
    bad = np.concatenate([np.arange(size + 1) for size in sizes])
    chips = np.repeat(sizes, sizes + 1)
    worth = bad * weights[0] + (chips - bad) * weights[1]
    # One drawn number says both how many chips a run has and how many of them failed.
    law = np.repeat(often / often.sum(), sizes + 1) * _chance_of_failed(
        bad, chips, rates[:, None], correlation
    )
    up_to = np.cumsum(law, axis=1) / law.sum(axis=1, keepdims=True)
    highest = []
    for ends in up_to[:, :-1]:
        drawn = rng.random((runs, semesters // _RATES))
        highest.append(_highest(worth[np.searchsorted(ends, drawn)]))
    return float(np.quantile(np.concatenate(highest), 1.0 - chance))


def _chance_of_failed(
    bad: NDArray[np.int_], chips: NDArray[np.int_], rate: Floats, correlation: float
) -> Floats:
    """
    Return the chance of a number of failed chips in a run: beta-binomial, or binomial.

    Examples
    --------
    >>> _chance_of_failed(np.arange(3), np.array(2), np.array(0.5), 0.0).tolist()
    [0.25, 0.5, 0.25]
    >>> _chance_of_failed(np.arange(3), np.array(2), np.array(0.5), 0.5).round(3).tolist()
    [0.375, 0.25, 0.375]
    """
    from scipy.special import betaln, comb

    ways = comb(chips, bad)
    if correlation <= 0.0:
        return np.asarray(ways * rate**bad * (1.0 - rate) ** (chips - bad))
    strength = (1.0 - correlation) / correlation
    a, b = np.maximum(rate * strength, 1e-12), np.maximum((1.0 - rate) * strength, 1e-12)
    return np.asarray(ways * np.exp(betaln(bad + a, chips - bad + b) - betaln(a, b)))


def _highest(steps: Floats) -> Floats:
    """
    Return how high the sum of steps has been that starts anew at 0 whenever it would fall below.

    That sum is the walk less the lowest it has been, 0 included (Page 1954, Biometrika 41:100).

    Examples
    --------
    >>> _highest(np.array([[1.0], [-3.0], [2.0], [0.5], [-1.0]])).tolist()
    [2.5]
    """
    walk = np.cumsum(steps, axis=0)
    walk -= np.minimum.accumulate(np.minimum(walk, 0.0), axis=0)
    return np.asarray(walk.max(axis=0))
