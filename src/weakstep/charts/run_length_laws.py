"""The distribution of a run length: average, spread, quantiles, chance of no signal so far."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import chance, whole_number
from weakstep.charts.frozen import frozen

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_LONGEST = 20_000  # points followed one by one; by then most charts forget how they started
_SETTLED = 1e-14  # change of the chance of going on, from point to point
_STEADY_POINTS = 6  # for which it must not change
_FAINTEST = 1e-12  # chance of a signal at a point; a smaller one has lost its digits
_AGREEMENT = 1e-7  # share by which the rest may miss a known average,
_ROUNDING = 1e-14  # and as much more of the chance of a signal, which has lost digits where small
_ONE_BY_ONE = 1000  # points: so many chances are taken as they come
_MOST_POINTS = 1_000_000
_GONE = 1e-13  # chance of no signal that is not followed further: what is left is rounding


@dataclass(frozen=True, eq=False)
class RunLengthLaw:
    """
    Distribution of the number of points until the first signal.

    Attributes
    ----------
    average, sd : float
        Mean and standard deviation, in points; infinite beyond 1e12.
    left : array, shape (n_followed + 1,)
        Chance that no signal has come by points 0, 1, 2, ...
    going_on : float
        Chance that a chart that has come this far passes one more point; from the last place of
        *left* on it no longer changes.
    """

    average: float
    sd: float
    left: Floats
    going_on: float

    def survival(self, n_points: int) -> float:
        """Chance that no signal has come by *n_points*, a whole number of at least 0."""
        n_points = whole_number("n_points", n_points, 0)
        if n_points < len(self.left):
            return float(self.left[n_points])
        return float(self.left[-1] * self.going_on ** (n_points - len(self.left) + 1))

    def survivals(self, n_points: int) -> Floats:
        """Chances that no signal has come by points 1, 2, ... *n_points*."""
        known = self.left[1 : n_points + 1]
        further = np.arange(1, n_points - len(known) + 1)
        return np.concatenate([known, self.left[-1] * self.going_on**further])

    def quantile(self, level: float) -> int:
        """
        Smallest number of points by which a signal has come with a chance of at least *level*.

        The median run length is that of 0.5.

        Raises
        ------
        ValueError
            *level* does not lie between 0 and 1, or signals are so seldom (beyond 1e12 points on
            average) that no number has any digits.
        """
        most = (1.0 - chance("level", level)) * (1.0 + 1e-12)
        reached = np.flatnonzero(self.left <= most)
        if len(reached):
            return int(reached[0])
        if math.isinf(self.average):
            msg = f"signals are too seldom to tell a quantile of level {level:g}"
            raise ValueError(msg)
        more = math.log(most / self.left[-1]) / math.log(self.going_on)
        return len(self.left) - 1 + math.ceil(more - 1e-9)


def survivals_of(chances: Iterator[float], n_points: int, *, memory: int = 1) -> Floats:
    """
    Take the chances of no signal by points 1 to *n_points* from an unending row of them.

    Far out they are geometric, see `law_of`, and are not followed one by one.

    Raises
    ------
    ValueError
        *n_points* is not a whole number from 0 to a million.

    Examples
    --------
    >>> survivals_of((0.5**n for n in range(1, 99)), 3).tolist()
    [0.5, 0.25, 0.125]
    """
    if whole_number("n_points", n_points, 0) > _MOST_POINTS:
        msg = f"n_points must be at most {_MOST_POINTS}, got {n_points}"
        raise ValueError(msg)
    if n_points <= _ONE_BY_ONE:
        return np.array([next(chances) for _ in range(int(n_points))])
    return law_of(islice(chances, int(n_points)), memory=memory).survivals(int(n_points))


def law_of(
    chances: Iterator[float],
    average: float | None = None,
    *,
    memory: int = 1,
    longest: int = _LONGEST,
) -> RunLengthLaw:
    r"""
    Build the law from the chances of no signal by points 1, 2, ...

    Each chance :math:`S_n = P(N > n)` is asked for until :math:`S_n / S_{n-1}` no longer changes
    (by 1e-14 for six points, all of them more than *memory* from the start) and the rest, taken as
    geometric, leads to the average where it is known, else a signal is possible: sums from 0 cannot
    reach a far limit in a few points.
    :math:`E N = \sum S_n` and :math:`E N^2 = \sum (2n + 1) S_n`.

    Parameters
    ----------
    chances : iterator of float
        As many as there are; unending for a law to its end.
    average : float, optional
        The mean where it is known by a shorter road (a system of linear equations).
    memory : int, default 1
        Points that a signal may look at: before so many have come, nothing can be told from them.
    longest : int
        Points after which the rest is taken as geometric in any case, so that a known average is
        kept.

    Returns
    -------
    RunLengthLaw

    Examples
    --------
    >>> law = law_of(0.5**n for n in range(1, 1000))
    >>> round(law.average, 9), round(law.sd**2, 9), law.quantile(0.75)
    (2.0, 2.0, 2)
    """
    left, ratio, calm, total = [1.0], 0.0, 0, 0.0
    for value in chances:
        if value < _GONE:
            left.append(max(value, 0.0))
            break
        following = value / left[-1]
        same = len(left) > memory and abs(following - ratio) < _SETTLED
        calm = calm + 1 if same else 0
        ratio, total = following, total + left[-1]
        left.append(value)
        if calm >= _STEADY_POINTS and _is_settled(total, value, ratio, average):
            break
        if len(left) > longest:
            if average is not None and total < average < math.inf:
                ratio = 1.0 - value / (average - total)
            break
    known = np.array(left)
    last, count = known[-1], len(known) - 1
    ratio = min(ratio, 1.0 - 1e-15)
    beyond = last / (1.0 - ratio)  # sum of the chances from the last on
    mean = float(known[:-1].sum() + beyond)
    squares = float(
        (2.0 * np.arange(count) + 1.0) @ known[:-1]
        + (2.0 * count + 1.0) * beyond
        + 2.0 * beyond * ratio / (1.0 - ratio)
    )
    sd = math.sqrt(max(squares - mean**2, 0.0))
    if average is None:
        average = mean if mean < 1.0 / _FAINTEST else math.inf
    if math.isinf(average):
        sd = math.inf
    return RunLengthLaw(average, sd, frozen(known), float(ratio))


def _is_settled(total: float, last: float, ratio: float, average: float | None) -> bool:
    """Whether chances that add up to *total* before the *last* may go on as geometric ones."""
    signal = max(1.0 - ratio, 1e-15)
    if average is None or math.isinf(average):
        return average is not None or signal > _FAINTEST
    close = _AGREEMENT + _ROUNDING / signal
    return abs(total + last / signal - average) < close * average
