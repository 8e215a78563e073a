"""How many more runs would show a doubling of the failure rate, by simulation on this log."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.calendar import background_with_best_curves, weeks_or_blocks
from weakstep.failures.candidates import pool_small_strata
from weakstep.failures.enough import (
    DOUBLING,
    LARGEST_RATE,
    POWER,
    design_effect,
)
from weakstep.failures.further_model import Needed
from weakstep.failures.links import Outcomes
from weakstep.failures.null_model import (
    Background,
    NullFit,
    fit_null,
    fit_null_with_weeks,
    operator_background,
)
from weakstep.failures.permuting import draw_orders, score, strength_of
from weakstep.failures.planting import correlation_beside, planted_rate, upper_half
from weakstep.failures.screen import CALENDAR_GATE, CLAIM
from weakstep.failures.toofew import FEWEST_FAILURES
from weakstep.failures.verdict import TIMES_LONGER_AT_MOST
from weakstep.interval import Interval

if TYPE_CHECKING:
    from weakstep.failures.candidates import Candidate

LEVEL = 0.90
REORDERINGS = 499
MOST_DRAWS, FEWEST_DRAWS = 100, 20
DRAWN_CHIPS = 1_500_000
MOST_PARAMETERS, FEWER_IN_LONG_LOGS, MOST_RUNS = 30, 12, 400
CLOSE = 1e-3


@dataclass(frozen=True, eq=False)
class _Bars:
    """Strength that a factor must reach: over all factors, and its own allowing for time."""

    claim: float
    calendar: np.ndarray


@dataclass(frozen=True, eq=False)
class _Asked:
    """Scores of one planted factor's shapes under one null model: what is expected, and luck."""

    expected: np.ndarray
    luck: np.ndarray
    one_sided: np.ndarray
    bar: float

    def shown(self, times: float) -> np.ndarray:
        """Return which simulated logs pass when the log is so many times as long."""
        z = np.sqrt(times) * self.expected[:, None] + self.luck
        return np.asarray(strength_of(z, self.one_sided) >= self.bar)


def runs_needed(
    outcomes: Outcomes,
    candidates: tuple[Candidate, ...],
    rng: np.random.Generator,
    *,
    ratio: float = DOUBLING,
) -> Needed | None:
    r"""
    Simulate logs like this one in which one parameter matters, and ask when it would stand out.

    The runs keep their operators, weeks, chips and logged values. One parameter after another is
    made to matter: runs in the upper half of its logged values fail *ratio* times as often as
    those in the lower half, at the log's own failure rate and operator differences, chips of one
    run failing together as they do here (beta-binomial). Each simulated log is scored as the
    screen does: against what the largest T over all factors and families reaches by chance in
    this log, with random week effects, and beside the two calendar curves that fit best.

    A score is its expected value plus luck; in a log k times as long with the same habits the
    expected value is :math:`\sqrt k` times as large. The length that shows it with a chance of
    80 % is where the share of simulated logs that pass crosses 0.80. Its interval holds the error
    of the simulation and that of the failure rate (runs needed go as (1 - p) / p, p known to
    :math:`\sqrt{d / (n p (1 - p))}` on the logit scale, d the design effect of n chips). Logs of
    more than 400 runs are simulated on their latest 400.

    Parameters
    ----------
    outcomes : Outcomes
    candidates : tuple of Candidate
        30 of those that can be planted, at random; 12 in long logs.
    rng : Generator
    ratio : float, default 2

    Returns
    -------
    Needed or None
        None when no number or yes/no parameter has at least a quarter of its runs in either half.
    """
    family, failed = max(outcomes.failed.items(), key=lambda one: int(one[1].sum()))
    halves = {
        place: upper
        for place, one in enumerate(candidates)
        if (upper := upper_half(one)) is not None
    }
    if not halves:
        return None
    long = len(outcomes.tested) > MOST_RUNS
    most = FEWER_IN_LONG_LOGS if long else MOST_PARAMETERS
    chosen = sorted(rng.permutation(list(halves))[:most].tolist())
    latest = _latest(failed, outcomes.tested)
    simulation = _Simulation(_only(outcomes, latest), candidates, latest, family, rng)
    draws = DRAWN_CHIPS // (int(latest.sum()) * len(chosen))
    draws = int(np.clip(draws, FEWEST_DRAWS, MOST_DRAWS))
    planted = [
        simulation.planted(place, halves[place][latest], ratio, draws, rng) for place in chosen
    ]

    def shown(times: float) -> np.ndarray:
        each = [np.all([one.shown(times) for one in asked], axis=0) for asked in planted]
        return np.array([one.mean() for one in each])

    simulated = int(latest.sum())
    runs = _length(shown, draws, simulated, failed, outcomes.tested)
    logged = float(len(outcomes.tested))
    low = 2.0 * float(failed.sum() / outcomes.tested.sum()) / (1.0 + ratio)
    high = min(low * ratio, LARGEST_RATE)
    now = float(shown(logged / simulated).mean())
    further = None if runs is None else _beyond(runs, logged)
    return Needed(family, ratio, high / ratio, high, len(chosen), POWER, now, runs, further)


def _beyond(runs: Interval, logged: float) -> Interval:
    estimate, lower, upper = (
        max(0.0, end - logged) for end in (runs.estimate, runs.lower, runs.upper)
    )
    return Interval(estimate, lower, upper, runs.level)


def _latest(failed: np.ndarray, tested: np.ndarray) -> np.ndarray:
    """Return which runs are simulated: the latest, or all when these failed hardly or always."""
    latest = np.arange(len(tested)) >= len(tested) - MOST_RUNS
    k, m = int(failed[latest].sum()), int(tested[latest].sum())
    return latest if min(k, m - k) >= FEWEST_FAILURES else np.ones(len(tested), dtype=bool)


def _only(outcomes: Outcomes, kept: np.ndarray) -> Outcomes:
    failed = {name: counts[kept] for name, counts in outcomes.failed.items()}
    return Outcomes(outcomes.tested[kept], failed, outcomes.operator[kept], outcomes.week[kept])


class _Simulation:
    """One log, its bars, and the null models that a planted factor is asked under."""

    def __init__(
        self,
        outcomes: Outcomes,
        candidates: tuple[Candidate, ...],
        kept: np.ndarray,
        family: str,
        rng: np.random.Generator,
    ):
        self.tested = outcomes.tested
        self.columns = [one.columns[kept] for one in candidates]
        self.one_sided = [np.array([shape.one_sided for shape in one.shapes]) for one in candidates]
        self.background = operator_background(outcomes.operator)
        self.strata = pool_small_strata(outcomes.operator.astype(str))
        failed = outcomes.failed[family]
        null = fit_null(self.background, failed, self.tested)
        self.rate = null.probability
        self.together = correlation_beside(null, self.tested)
        blocks = weeks_or_blocks(outcomes.week)
        self.weeks = fit_null_with_weeks(self.background, blocks, failed, self.tested).background
        self.bars = self._bars(outcomes, rng)

    def _bars(self, outcomes: Outcomes, rng: np.random.Generator) -> _Bars:
        """Re-order this log's own failures: what strength comes by luck."""
        owner = np.repeat(np.arange(len(self.columns)), [len(one) for one in self.one_sided])
        columns, one_sided = np.column_stack(self.columns), np.concatenate(self.one_sided)
        orders = draw_orders(self.strata, REORDERINGS, rng)
        chance = []
        for failed in outcomes.failed.values():
            if not 0 < failed.sum() < self.tested.sum():
                continue
            fit = fit_null(self.background, failed, self.tested)
            found = score(fit.project(columns), fit.residuals, owner, one_sided, orders)
            chance.append(found.by_chance)
        largest = np.max([one.max(axis=0) for one in chance], axis=0)
        own = np.mean([np.quantile(one, 1.0 - CALENDAR_GATE, axis=1) for one in chance], axis=0)
        return _Bars(float(np.quantile(largest, 1.0 - CLAIM)), own)

    def planted(
        self, place: int, upper: np.ndarray, ratio: float, draws: int, rng: np.random.Generator
    ) -> tuple[_Asked, ...]:
        """Simulate failures with this factor mattering, scored under each null model."""
        rate = planted_rate(self.rate, self.tested, upper, ratio)
        luck = self._luck(rate, draws, rng)
        expected = self.tested * rate
        curves = background_with_best_curves(self.background, expected, self.tested)
        asked: list[tuple[Background, float]] = [
            (self.background, self.bars.claim),
            (self.weeks, self.bars.claim),
            (curves, float(self.bars.calendar[place])),
        ]
        return tuple(
            self._asked(place, fit_null(background, expected, self.tested), rate, luck, bar)
            for background, bar in asked
        )

    def _luck(self, rate: np.ndarray, draws: int, rng: np.random.Generator) -> np.ndarray:
        """Return failed chips less what is expected, shape (n_runs, n_draws)."""
        p = np.repeat(rate[:, None], draws, axis=1)
        if self.together > CLOSE:
            chips = 1.0 / min(self.together, 1.0 - CLOSE) - 1.0
            p = rng.beta(p * chips, (1.0 - p) * chips)
        return np.asarray(rng.binomial(self.tested[:, None], p) - (self.tested * rate)[:, None])

    def _asked(
        self, place: int, fit: NullFit, rate: np.ndarray, luck: np.ndarray, bar: float
    ) -> _Asked:
        """Score expected failures and luck, by the spread that the screen would find."""
        members = (self.strata[None, :] == np.arange(self.strata.max() + 1)[:, None]).astype(float)
        counts = members.sum(axis=1)
        columns = fit.project(self.columns[place])
        columns = columns - ((members @ columns) / counts[:, None])[self.strata]
        variance = self.tested * rate * (1.0 - rate) * (1.0 + (self.tested - 1) * self.together)
        squared = fit.residuals**2 + variance / fit.weights
        spread = (members @ squared) / counts
        sd = np.sqrt(np.maximum(spread @ (members @ columns**2), 1e-12))
        scaled = columns / sd
        return _Asked(
            fit.residuals @ scaled,
            scaled.T @ (luck / np.sqrt(fit.weights)[:, None]),
            self.one_sided[place],
            bar,
        )


def _length(
    shown: Callable[[float], np.ndarray],
    draws: int,
    simulated: int,
    failed: np.ndarray,
    tested: np.ndarray,
) -> Interval | None:
    """Find where the chance crosses 80 %, by halving on the logarithm of the length."""
    low, high = np.log(1.0 / TIMES_LONGER_AT_MOST), np.log(TIMES_LONGER_AT_MOST)
    if shown(float(np.exp(high))).mean() < POWER:
        return None
    while high - low > CLOSE:
        middle = 0.5 * (low + high)
        low, high = (
            (low, middle) if shown(float(np.exp(middle))).mean() >= POWER else (middle, high)
        )
    times = 0.5 * (low + high)
    chances = shown(float(np.exp(times)))
    ahead, behind = (float(shown(float(np.exp(times + by))).mean()) for by in (0.2, -0.2))
    slope = max((ahead - behind) / 0.4, 0.1)
    of_luck = np.sqrt((chances * (1.0 - chances)).sum() / draws) / len(chances) / slope
    n, p = float(tested.sum()), float(failed.sum() / tested.sum())
    of_rate = np.sqrt(design_effect(failed, tested) / (n * p * (1.0 - p)))
    reach = NormalDist().inv_cdf(0.5 + LEVEL / 2.0) * float(np.hypot(of_luck, of_rate))
    runs = simulated * float(np.exp(times))
    return Interval(runs, runs * float(np.exp(-reach)), runs * float(np.exp(reach)), LEVEL)
