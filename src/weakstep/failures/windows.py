"""The window to hold a parameter in, and what every other limit would do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from weakstep.failures.model import Curve, TighteningCurve, Window
from weakstep.failures.shares import LEVEL, Draws

if TYPE_CHECKING:
    from collections.abc import Mapping

    from weakstep.failures.candidates import Candidate
    from weakstep.process.model import Process
    from weakstep.runlog.model import RunTable

LOWER_QUANTILES = tuple(place / 20.0 for place in range(2, 11))
UPPER_QUANTILES = tuple(place / 20.0 for place in range(10, 19))
GRID = 21
ENOUGH_OF_BEST = 0.85
LEAST_GAIN = 0.01
FEWEST_INSIDE = 0.5


@dataclass(frozen=True, eq=False)
class Limits:
    """
    Limits that a window of one parameter may have.

    Attributes
    ----------
    values : array, shape (n_limits,)
        Ascending, in the parameter's unit, within the logged range.
    lower, upper : array of int
        Which of them may be lower and upper limits of a window.
    """

    values: np.ndarray
    lower: np.ndarray
    upper: np.ndarray


@dataclass(frozen=True, eq=False)
class Choice:
    """
    A chosen window, or a chosen level of a category.

    Attributes
    ----------
    window : Window or None
    prevented : array, shape (n_draws,)
        Failures that it prevents in each draw.
    inside : float or None
        Share of runs already inside.
    level : str
        Of a category: what is avoided or kept, as a phrase.
    """

    window: Window | None
    prevented: np.ndarray
    inside: float | None
    level: str = ""


def rated_range(process: Process, runs: RunTable, column: str) -> tuple[float, float]:
    """
    Return the numbers that *column* must not go below and above; infinite where none is rated.

    A limit that holds only for some rows (one mould material) counts as soon as one run has it. A
    limit that a column carries (each mould's softening temperature) counts with the strictest
    value that the log holds.
    """
    low, high = -np.inf, np.inf
    for limit in process.rated_limits:
        if limit.parameter != column or not _applies(limit.where, runs):
            continue
        low = max([low, *_rated_values(limit.lower, runs)])
        high = min([high, *_rated_values(limit.upper, runs)])
    return low, high


def _rated_values(limit: float | str | None, runs: RunTable) -> list[float]:
    if limit is None:
        return []
    if not isinstance(limit, str):
        return [float(limit)]
    if limit not in runs.numbers.columns:
        return []
    logged = runs.numbers[limit].to_numpy(dtype=float)
    return [float(value) for value in logged[~np.isnan(logged)]]


def _applies(where: Mapping[str, str], runs: RunTable) -> bool:
    return all(
        name in runs.categories.columns and bool((runs.categories[name] == value).any())
        for name, value in where.items()
    )


def possible_limits(candidate: Candidate, low: float, high: float) -> Limits:
    """
    Return the limits to try: values of the log, rounded outwards as the parameter is printed.

    Parameters
    ----------
    candidate : Candidate
        A number or yes/no column.
    low, high : float
        Rated limits; nothing beyond them is offered.

    Returns
    -------
    Limits
    """
    values = candidate.values[candidate.logged]
    smallest, largest = float(values.min()), float(values.max())
    if candidate.kind == "yes_no":
        ends = np.array([0.0, 1.0])
        return Limits(ends, np.array([1]), np.array([0]))
    bottom, top = max(smallest, low), min(largest, high)
    decimals = _decimals(candidate.parameter.decimals, largest - smallest)

    # Limits are logged values: between two values that were run the log knows nothing.
    lower = np.floor(_at(values, LOWER_QUANTILES) * 10.0**decimals + 1e-6) / 10.0**decimals
    upper = np.ceil(_at(values, UPPER_QUANTILES) * 10.0**decimals - 1e-6) / 10.0**decimals
    lower = np.unique(np.maximum(lower, bottom)[np.maximum(lower, bottom) <= top])
    upper = np.unique(np.minimum(upper, top)[np.minimum(upper, top) >= bottom])
    scale = candidate.shapes[0].scale
    log = scale is not None and scale.log
    grid = np.geomspace(smallest, largest, GRID) if log else np.linspace(smallest, largest, GRID)
    everything = np.unique(np.concatenate([lower, upper, np.clip(grid, smallest, largest)]))
    return Limits(
        everything, np.searchsorted(everything, lower), np.searchsorted(everything, upper)
    )


def _at(values: np.ndarray, levels: tuple[float, ...]) -> np.ndarray:
    return np.asarray(np.quantile(values, levels, method="inverted_cdf"))


def _decimals(printed: int, spread: float) -> int:
    """Return digits after the point that move a limit by at most 5 % of the logged range."""
    needed = int(np.ceil(-np.log10(0.1 * spread))) if spread > 0 else printed
    return max(printed, needed)


def choose_window(candidate: Candidate, limits: Limits, draws: Draws) -> Choice:
    """
    Choose the widest window that keeps 85 % of what the best window would prevent.

    A side on which hardly any draw loses failures is left open, unless that goes for both: nobody
    should be asked to slow down because the log cannot quite rule out that haste harms.

    Parameters
    ----------
    candidate : Candidate
    limits : Limits
    draws : Draws

    Returns
    -------
    Choice
        Among windows that hold at least half the runs; none when even the best prevents less
        than 1 % of the failures.
    """
    values = candidate.values[candidate.logged]
    sure_below = _sure(draws.from_below[:, limits.lower], draws)
    sure_above = _sure(draws.from_above[:, limits.upper], draws)
    lower = () if sure_above and not sure_below else limits.lower
    upper = () if sure_below and not sure_above else limits.upper
    options: list[tuple[int | None, int | None]] = [
        (low, high)
        for low in (None, *(int(one) for one in lower))
        for high in (None, *(int(one) for one in upper))
        if (low is not None or high is not None) and (low is None or high is None or low <= high)
    ]
    gained_below = draws.mean_share(draws.from_below).tolist()
    gained_above = draws.mean_share(draws.from_above).tolist()
    ordered = np.sort(values)
    outside_below = np.searchsorted(ordered, limits.values, side="left").tolist()
    outside_above = (len(ordered) - np.searchsorted(ordered, limits.values, side="right")).tolist()
    gain: dict[tuple[int | None, int | None], float] = {}
    inside: dict[tuple[int | None, int | None], float] = {}
    for low, high in options:
        outside = 0 if low is None else outside_below[low]
        outside += 0 if high is None else outside_above[high]
        kept = 1.0 - outside / len(values)
        if kept < FEWEST_INSIDE and candidate.kind != "yes_no":
            continue
        gain[low, high] = (0.0 if low is None else gained_below[low]) + (
            0.0 if high is None else gained_above[high]
        )
        inside[low, high] = kept
    best = max(gain.values(), default=0.0)
    if best < LEAST_GAIN:
        return Choice(None, *_best_unwindowed(draws, gain))
    enough = [option for option, value in gain.items() if value >= ENOUGH_OF_BEST * best]
    low, high = max(enough, key=lambda option: (round(inside[option], 9), gain[option]))
    window = Window(
        None if low is None else float(limits.values[low]),
        None if high is None else float(limits.values[high]),
        candidate.parameter.unit,
    )
    return Choice(window, prevented_by(draws, low, high), inside[low, high])


def _sure(prevented: np.ndarray, draws: Draws) -> bool:
    """Whether some limit of a side prevents at least 1 % of failures in 90 % of the draws."""
    often = (prevented >= LEAST_GAIN * draws.total[:, None]).mean(axis=0)
    return bool(often.max(initial=0.0) >= LEVEL)


def _best_unwindowed(
    draws: Draws, gain: dict[tuple[int | None, int | None], float]
) -> tuple[np.ndarray, None]:
    low, high = max(gain, key=lambda option: gain[option], default=(None, None))
    if gain.get((low, high), 0.0) <= 0.0:
        return np.zeros(len(draws.total)), None
    return prevented_by(draws, low, high), None


def prevented_by(draws: Draws, low: int | None, high: int | None) -> np.ndarray:
    """Return the failures prevented in each draw by these limits; shape (n_draws,)."""
    prevented = np.zeros(len(draws.total))
    if low is not None:
        prevented = prevented + draws.from_below[:, low]
    if high is not None:
        prevented = prevented + draws.from_above[:, high]
    return np.asarray(prevented)


def failure_curve(limits: Limits, draws: Draws) -> Curve:
    """Return failure probability against the parameter, other things as logged."""
    mean, low, high = draws.rates(draws.at)
    return Curve(limits.values, mean, low, high, LEVEL)


def tightening_curves(
    candidate: Candidate, limits: Limits, draws: Draws
) -> tuple[TighteningCurve, ...]:
    """Return the curve of each side on which some limit prevents at least 1 % of failures."""
    values = candidate.values[candidate.logged]
    curves = []
    sides: tuple[tuple[Literal["upper", "lower"], np.ndarray, np.ndarray], ...] = (
        ("upper", draws.from_above, values[:, None] <= limits.values[None, :]),
        ("lower", draws.from_below, values[:, None] >= limits.values[None, :]),
    )
    for side, prevented, met in sides:
        if float(draws.mean_share(prevented).max()) < LEAST_GAIN:
            continue
        mean, low, high = draws.rates(draws.total[:, None] - prevented)
        share_met = met.mean(axis=0)
        curves.append(TighteningCurve(side, limits.values, mean, low, high, share_met, LEVEL))
    return tuple(curves)
