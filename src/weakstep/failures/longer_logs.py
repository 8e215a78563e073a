"""Logs as long as one likes with the habits of a given one, and what would stand out in them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.calendar import background_with_best_curves, weeks_or_blocks
from weakstep.failures.candidates import pool_small_strata
from weakstep.failures.evidence import EvidenceTable, likelihood_table
from weakstep.failures.null_model import (
    Background,
    NullFit,
    fit_null,
    fit_null_with_weeks,
    fitted_operator_background,
)
from weakstep.failures.permuting import Orders, draw_orders, score
from weakstep.failures.planting import correlation_beside, planted_rate
from weakstep.failures.screen import CALENDAR_GATE, CLAIM, WEEK_GATE
from weakstep.failures.strata import centred_within, stratum_members

if TYPE_CHECKING:
    from weakstep.failures.candidates import Candidate
    from weakstep.failures.links import Outcomes

REORDERINGS = 499
CLOSE = 1e-3
NEIGHBOURS = 2


@dataclass(frozen=True, eq=False)
class Habits:
    """
    What a log's runs are drawn from.

    Attributes
    ----------
    tested, week : array of int, shape (n_runs,)
        In time order.
    operator : array of str, shape (n_runs,)
    failed : mapping of family name to array of int, shape (n_runs,)
    columns : tuple of array, shape (n_runs, n_shapes)
        Of each candidate.
    positive, weights : tuple of array, shape (n_shapes,)
        Of each candidate's shapes.
    rate : array, shape (n_runs,)
        Failure rate of the family asked about, by who ran it.
    together : float
        Correlation of chips of one run beside that.
    widening : float
        Spread of values within operators in a long log over that in this one, where each operator's
        mean is that of a few runs: sqrt(n / (n - operators)).
    """

    tested: np.ndarray
    week: np.ndarray
    operator: np.ndarray
    failed: Mapping[str, np.ndarray]
    columns: tuple[np.ndarray, ...]
    positive: tuple[np.ndarray, ...]
    weights: tuple[np.ndarray, ...]
    rate: np.ndarray
    together: float
    widening: float = 1.0

    def rows(self, index: np.ndarray, week: np.ndarray) -> Habits:
        """Return the log whose places hold the runs *index*, in these weeks."""
        return replace(
            self,
            tested=self.tested[index],
            week=week,
            operator=self.operator[index],
            failed={name: counts[index] for name, counts in self.failed.items()},
            columns=tuple(one[index] for one in self.columns),
            rate=self.rate[index],
        )


def habits(outcomes: Outcomes, candidates: tuple[Candidate, ...], family: str) -> Habits:
    """Describe a log by what its runs were like, with the failure rates of one family."""
    tested, failed = outcomes.tested, outcomes.failed[family]
    null = fit_null(fitted_operator_background(outcomes.operator, failed, tested), failed, tested)
    return Habits(
        tested,
        outcomes.week,
        outcomes.operator,
        outcomes.failed,
        tuple(one.columns for one in candidates),
        tuple(one.positive for one in candidates),
        tuple(one.weights for one in candidates),
        null.probability,
        correlation_beside(null, tested),
    )


def resampled(log: Habits, runs: int, rng: np.random.Generator) -> tuple[Habits, np.ndarray]:
    """
    Draw a log of *runs* runs like this one, by whole weeks and nearly in time order.

    Semesters like this one follow each other. In the place of each week stands that week itself or
    one of its neighbours, up to two weeks away, drawn with replacement: runs keep who ran them,
    their chips and values, and the company of the runs of the same week; drifts stay. Runs drawn
    one by one would bring the same run into a week twice, which looks like a bad week.

    Parameters
    ----------
    log : Habits
    runs : int
    rng : Generator

    Returns
    -------
    Habits, array of int, shape (runs,)
        And which run of *log* stands at each place.
    """
    count = len(log.tested)
    blocks = weeks_or_blocks(log.week)
    last = int(blocks.max())
    members = [np.flatnonzero(blocks == block) for block in range(last + 1)]
    places: list[np.ndarray] = []
    drawn = 0
    while drawn < runs:
        near = np.arange(last + 1) + rng.integers(-NEIGHBOURS, NEIGHBOURS + 1, last + 1)
        chosen = [members[block] for block in np.clip(near, 0, last)]
        places += chosen
        drawn += sum(len(one) for one in chosen)
    index = np.concatenate(places)[:runs]
    week = np.repeat(np.arange(len(places)), [len(one) for one in places])[:runs]
    # Each operator's mean is that of a few runs: values seem to vary less within operators.
    freedom = max(count - len(np.unique(log.operator)), 1)
    longer = replace(log.rows(index, week), widening=float(np.sqrt(count / freedom)))
    return longer, index


@dataclass(frozen=True, eq=False)
class Asked:
    """
    Scores of one planted factor's shapes under one null model: what is expected, and luck.

    Attributes
    ----------
    expected : array, shape (n_shapes,)
    luck : array, shape (n_shapes, n_draws)
    table : EvidenceTable
    share : array, shape (n_shapes,)
        Prior weights, summing to 1.
    bar : float
        Strength T that it must reach.
    """

    expected: np.ndarray
    luck: np.ndarray
    table: EvidenceTable
    share: np.ndarray
    bar: float

    def shown(self, times: float) -> np.ndarray:
        """Return which draws pass when the log is so many times as long, shape (n_draws,)."""
        z = np.sqrt(times) * self.expected[:, None] + self.luck
        evidence = self.table.at(z)
        top = evidence.max(axis=0)
        strength = 2.0 * (top + np.log(self.share @ np.exp(evidence - top)))
        return np.asarray(strength >= self.bar)


class Simulation:
    """
    Logs like this one in which one factor matters, scored as the screen scores.

    Parameters
    ----------
    log : Habits
    length : float
        Runs of the logs that are meant, which may be longer than *log*: what a score tells for an
        effect depends on how many runs it rests on.
    family : str
    rng : Generator
    """

    def __init__(self, log: Habits, length: float, family: str, rng: np.random.Generator):
        self.log = log
        self.longer = length / len(log.tested)
        failed = log.failed[family]
        self.background = fitted_operator_background(log.operator, failed, log.tested)
        self.strata = pool_small_strata(log.operator.astype(str))
        blocks = weeks_or_blocks(log.week)
        self.weeks = fit_null_with_weeks(self.background, blocks, failed, log.tested).background
        orders = draw_orders(self.strata, REORDERINGS, rng)
        plain, by_week = (self._by_chance(one, orders) for one in (self.background, self.weeks))
        self.claim, self.week = (
            float(np.quantile(np.max([one.max(axis=0) for one in chance], axis=0), 1.0 - gate))
            for chance, gate in ((plain, CLAIM), (by_week, WEEK_GATE))
        )
        self.calendar = np.mean(
            [np.quantile(one, 1.0 - CALENDAR_GATE, axis=1) for one in plain], axis=0
        )

    def _lengthened(self, fit: NullFit) -> NullFit:
        return replace(fit, weights=self.longer * fit.weights)

    def _by_chance(self, background: Background, orders: Orders) -> list[np.ndarray]:
        """Return what strength re-ordered failures of each family show, (n_factors, n_orders)."""
        log = self.log
        owner = np.repeat(np.arange(len(log.columns)), [one.shape[1] for one in log.columns])
        columns = np.sqrt(self.longer) * np.column_stack(log.columns)
        positive, weights = np.concatenate(log.positive), np.concatenate(log.weights)
        chance = []
        for failed in log.failed.values():
            if not 0 < failed.sum() < log.tested.sum():
                continue
            fit = fit_null(background, failed, log.tested)
            found = score(
                fit.project(columns),
                fit.residuals,
                owner,
                positive,
                orders,
                None,
                self._lengthened(fit),
                weights,
            )
            chance.append(found.by_chance)
        return chance

    def planted(
        self, place: int, upper: np.ndarray, ratio: float, draws: int, rng: np.random.Generator
    ) -> tuple[Asked, ...]:
        """Simulate failures with this factor mattering, scored under each null model."""
        tested = self.log.tested
        rate = planted_rate(self.log.rate, tested, upper, ratio)
        luck = self._luck(rate, draws, rng)
        expected = tested * rate
        curves = background_with_best_curves(self.background, expected, tested)
        asked: list[tuple[Background, float]] = [
            (self.background, self.claim),
            (self.weeks, self.week),
            (curves, float(self.calendar[place])),
        ]
        return tuple(
            self._asked(place, fit_null(background, expected, tested), luck, bar)
            for background, bar in asked
        )

    def _luck(self, rate: np.ndarray, draws: int, rng: np.random.Generator) -> np.ndarray:
        """Return failed chips less what is expected, shape (n_runs, n_draws)."""
        tested, together = self.log.tested[:, None], self.log.together
        p = np.repeat(rate[:, None], draws, axis=1)
        if together > CLOSE:
            chips = 1.0 / min(together, 1.0 - CLOSE) - 1.0
            p = rng.beta(p * chips, (1.0 - p) * chips)
        return np.asarray(rng.binomial(tested, p) - tested * rate[:, None])

    def _asked(self, place: int, fit: NullFit, luck: np.ndarray, bar: float) -> Asked:
        """Score expected failures and luck, by the spread that the screen would find."""
        log = self.log
        members = stratum_members(self.strata)
        columns = centred_within(fit.project(log.columns[place]), self.strata)
        # The null model follows luck as well as it can; what it leaves over is scored.
        left = fit.project(luck / fit.weights[:, None])
        squared = ((fit.residuals[:, None] + left) ** 2).mean(axis=1)
        variance = ((members @ squared) / members.sum(axis=1)) @ (members @ columns**2)
        variance = np.maximum(variance, 1e-12)
        positive, weights = log.positive[place], log.weights[place]
        table = likelihood_table(
            np.sqrt(self.longer) * columns, self.longer * variance, positive, self._lengthened(fit)
        )
        scaled = columns / np.sqrt(variance)
        return Asked(
            log.widening * (fit.residuals @ scaled),
            scaled.T @ left,
            table,
            weights / weights.sum(),
            bar,
        )
