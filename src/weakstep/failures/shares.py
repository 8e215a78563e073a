"""What holding a factor in a window would prevent, from draws of its possible effects."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.null_model import NullFit, logistic
from weakstep.failures.posterior import ShapeFits, draw_effects, draw_null
from weakstep.failures.shapes import evaluate_all
from weakstep.interval import Interval

if TYPE_CHECKING:
    from weakstep.failures.candidates import Candidate

LEVEL = 0.90
NULL_DRAWS = 100
LARGEST_BLOCK = 4_000_000
MOST_BACKGROUNDS = 150


@dataclass(frozen=True, eq=False)
class Draws:
    """
    Failures of the logged runs as they are and with every run held to a limit.

    Attributes
    ----------
    effect_mass : float
        Probability that the factor, and not a factor alike to it or none, has an effect.
    total : array, shape (n_draws,)
        Expected failures as logged, given an effect.
    from_below : array, shape (n_draws, n_limits)
        Failures prevented by raising values below the limit to it.
    from_above : array, shape (n_draws, n_limits)
        Failures prevented by lowering values above the limit to it.
    at : array, shape (n_draws, n_limits)
        Expected failures with every run at the limit.
    base : array, shape (n_null_draws,)
        Expected failures when the factor has no effect.
    tested : float
        Chips in the runs that logged the factor.
    """

    effect_mass: float
    total: np.ndarray
    from_below: np.ndarray
    from_above: np.ndarray
    at: np.ndarray
    base: np.ndarray
    tested: float

    def mean_share(self, prevented: np.ndarray) -> np.ndarray:
        """Return the mean share prevented, over effect and no effect; last axes as given."""
        share = prevented / _column(self.total, prevented)
        return np.asarray(self.effect_mass * share.mean(axis=0))

    def share(self, prevented: np.ndarray) -> Interval:
        """
        Summarise one window's share, prevented of shape (n_draws,).

        The mean, and the 5 and 95 % quantiles of the mixture of "no effect" (share 0) and the
        draws; the upper end is at least that of the draws alone, so that a real effect that the
        log barely shows is not ruled out.
        """
        share = prevented / self.total
        values = np.concatenate([[0.0], share])
        low, high = mixture_quantiles(values[:, None], 1, self.effect_mass)[:, 0]
        if self.effect_mass > 0.0:
            high = max(high, float(np.quantile(share, 0.5 + LEVEL / 2.0)))
        mean = max(0.0, float(self.effect_mass * share.mean()))
        return Interval(mean, min(max(0.0, float(low)), mean), max(float(high), mean), LEVEL)

    def rates(self, failures: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return mean and band of failure rates, for failures of shape (n_draws, n_limits)."""
        base = np.repeat(self.base[:, None], failures.shape[1], axis=1)
        values = np.concatenate([base, failures]) / self.tested
        low, high = mixture_quantiles(values, len(base), self.effect_mass)
        none = values[: len(base)].mean(axis=0)
        some = values[len(base) :].mean(axis=0)
        mean = (1.0 - self.effect_mass) * none + self.effect_mass * some
        return mean, np.minimum(low, mean), np.maximum(high, mean)


def _column(total: np.ndarray, like: np.ndarray) -> np.ndarray:
    return total.reshape(-1, *([1] * (like.ndim - 1)))


def mixture_quantiles(values: np.ndarray, without: int, mass: float) -> np.ndarray:
    """
    Return lower and upper 90 % ends of a weighted sample, shape (2, n_columns).

    Parameters
    ----------
    values : array, shape (n_values, n_columns)
        The first *without* rows share the weight 1 - mass, the others share *mass*.
    without : int
    mass : float
    """
    with_effect = len(values) - without
    weights = np.concatenate(
        [
            np.full(without, (1.0 - mass) / without),
            np.full(with_effect, mass / with_effect),
        ]
    )
    order = np.argsort(values, axis=0)
    cumulated = np.cumsum(weights[order], axis=0)
    ends = np.array([0.5 - LEVEL / 2.0, 0.5 + LEVEL / 2.0])
    rows = [(cumulated < end - 1e-12).sum(axis=0) for end in ends]
    rows = [np.minimum(row, len(values) - 1) for row in rows]
    ordered = np.take_along_axis(values, order, axis=0)
    return np.stack([np.take_along_axis(ordered, row[None, :], axis=0)[0] for row in rows])


def simulate(
    candidate: Candidate,
    fits: ShapeFits,
    null: NullFit,
    effect_mass: float,
    tested: np.ndarray,
    limits: np.ndarray,
    draws: int,
    rng: np.random.Generator,
) -> Draws:
    """
    Draw the factor's effect and work out what every limit would have prevented.

    Parameters
    ----------
    candidate : Candidate
        A number or yes/no column.
    fits : ShapeFits
    null : NullFit
        The model the fits stand beside.
    effect_mass : float
    tested : array of int, shape (n_runs,)
    limits : array, shape (n_limits,)
        In the parameter's unit.
    draws : int
    rng : Generator

    Returns
    -------
    Draws
        Over the runs that logged the parameter; the others are taken to be like them.
    """
    logged = candidate.logged
    values, chips = candidate.values[logged], tested[logged].astype(float)
    rows, group = _backgrounds(null, logged)
    shape, coefficients = draw_effects(fits, draws, rng)
    effect = coefficients[:, :1]
    own = effect * candidate.columns[logged].T[shape]
    at_limits = effect * evaluate_all(candidate.shapes, limits)[shape]
    base = coefficients[:, 1:] @ rows.T
    now = logistic(base[:, group] + own) * chips
    below = (values[:, None] < limits[None, :]) * chips[:, None]
    above = (values[:, None] > limits[None, :]) * chips[:, None]
    everyone = np.repeat(chips[:, None], len(limits), axis=1)
    sides = [_sum_by(group, chosen, len(rows)) for chosen in (below, above, everyone)]
    then = np.concatenate(
        [
            _held(base[block], at_limits[block], sides)
            for block in _blocks(draws, len(rows) * len(limits))
        ]
    )
    as_logged = now / chips
    without = logistic(draw_null(null, NULL_DRAWS, rng) @ rows.T)[:, group] @ chips
    return Draws(
        effect_mass,
        now.sum(axis=1),
        as_logged @ below - then[:, 0],
        as_logged @ above - then[:, 1],
        then[:, 2],
        without,
        float(chips.sum()),
    )


def _backgrounds(null: NullFit, logged: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """
    Return the different backgrounds of the logged runs, and which one each run has.

    Runs with the same background differ by the factor only: what they do at a limit is the same.
    In a long log, runs whose backgrounds make failures about equally likely share their mean.
    """
    columns = null.background.columns[logged]
    rows, group = np.unique(columns, axis=0, return_inverse=True)
    if len(rows) <= MOST_BACKGROUNDS:
        return rows, group
    order = np.argsort(columns @ null.coefficients, kind="stable")
    group = np.empty(len(columns), dtype=int)
    group[order] = np.arange(len(columns)) * MOST_BACKGROUNDS // len(columns)
    total = np.zeros((MOST_BACKGROUNDS, columns.shape[1]))
    np.add.at(total, group, columns)
    return total / np.bincount(group)[:, None], group


def _sum_by(group: np.ndarray, chips: np.ndarray, groups: int) -> np.ndarray:
    """Sum *chips*, shape (n_runs, n_limits), over the runs of each group."""
    total = np.zeros((groups, chips.shape[1]))
    np.add.at(total, group, chips)
    return total


def _blocks(draws: int, cells: int) -> list[slice]:
    size = max(1, LARGEST_BLOCK // max(cells, 1))
    return [slice(first, min(first + size, draws)) for first in range(0, draws, size)]


def _held(base: np.ndarray, at_limits: np.ndarray, sides: list[np.ndarray]) -> np.ndarray:
    """Return failures at each limit of the chips on each side, shape (draws, 3, n_limits)."""
    # Single precision serves sums over draws well, and takes a sixth of the time.
    base, at_limits = base.astype(np.float32), at_limits.astype(np.float32)
    probability = logistic(base[:, :, None] + at_limits[:, None, :])
    return np.stack([np.einsum("dgl,gl->dl", probability, chips) for chips in sides], axis=1)
