"""The screen for outcomes that are measured: one score per run instead of failed and tested."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.calendar import curves, weeks_or_blocks
from weakstep.failures.candidates import side_by_side
from weakstep.failures.links import correlations_within
from weakstep.failures.model import Evidence, MeasuredLink
from weakstep.failures.null_model import indicator
from weakstep.failures.permuting import Orders, Scores, score, share_reaching
from weakstep.failures.screen import ALIKE, CALENDAR_GATE, CLAIM_AGAIN, MOST_CLAIMS, WEEK_GATE
from weakstep.failures.words import shape_words

if TYPE_CHECKING:
    from weakstep.failures.candidates import Candidate

STRONG, SOME = 0.05, 0.30
FEWEST_CURVES, MOST_CURVES = 2, 6
WEEK_RATIOS = (0.05, 0.15, 0.4, 1.0, 2.5)
WEAK = 1e-6


@dataclass(frozen=True, eq=False)
class _Round:
    """Scores of the open factors beside what was claimed, and their family-wise p."""

    scores: Scores
    p: np.ndarray


class MeasuredScreen:
    """One measured outcome against every candidate, claimed one after another."""

    def __init__(
        self,
        candidates: tuple[Candidate, ...],
        scores: np.ndarray,
        week: np.ndarray,
        orders: Orders,
    ):
        r"""
        Take one score per run, in time order.

        Shapes and scores are replaced by what a linear model leaves of both: operators' groups and
        the best shapes of the factors claimed so far. A factor with p <= 0.05 (0.02 from the second
        on, at most three) is claimed, and must pass the gates of the failure screen: (a) p <= 0.04
        with random week effects of variance :math:`r \sigma^2`, the r of five from 0.05 to 2.5
        that makes the scores most likely; (b) its own p <= 0.02 beside those of 23 calendar curves
        that the scores follow most closely, chosen one after the other: two, and up to six as long
        as each lowers n log(sum of squares) by more than 2 log n (numbers follow time more finely
        than counts do). Else it is "calendar".

        Parameters
        ----------
        candidates : tuple of Candidate
        scores : array, shape (n_runs,)
            High for early failures.
        week : array of int, shape (n_runs,)
        orders : Orders
        """
        self.candidates, self.scores, self.orders = candidates, scores, orders
        self.table = side_by_side(candidates)
        self.fixed = indicator(orders.strata)
        self.weeks = indicator(weeks_or_blocks(week))
        self.open = np.arange(len(candidates))
        self.links: dict[int, MeasuredLink] = {}
        self.order: dict[int, tuple[float, float]] = {}

    def run(self) -> tuple[MeasuredLink, ...]:
        """Return one link per candidate: claimed ones first, then by strength."""
        for turn in range(MOST_CLAIMS):
            current = self._round(self.fixed, None)
            self._record(current)
            leader = int(np.argmax(current.scores.strength))
            if current.p[leader] > (STRONG if turn == 0 else CLAIM_AGAIN):
                break
            self._claim(current, leader, turn)
            if not len(self.open):
                break
        return tuple(self.links[one] for one in sorted(self.links, key=lambda one: self.order[one]))

    def _round(self, fixed: np.ndarray, week_ratio: float | None) -> _Round:
        chosen = np.isin(self.table.owner, self.open)
        weeks = None if week_ratio is None else (self.weeks, week_ratio)
        result = score(
            _left_over(fixed, self.table.columns[:, chosen], weeks),
            _left_over(fixed, self.scores[:, None], weeks)[:, 0],
            np.searchsorted(self.open, self.table.owner[chosen]),
            self.table.positive[chosen],
            self.orders,
            self.table.told[chosen],
            weights=self.table.weights[chosen],
        )
        return _Round(result, share_reaching(result.by_chance.max(axis=0), result.strength))

    def _record(self, current: _Round) -> None:
        places = np.flatnonzero(np.isin(self.table.owner, self.open))[current.scores.best]
        told = self.table.columns[:, places]
        close = np.abs(correlations_within(told, self.orders.strata)) >= ALIKE
        np.fill_diagonal(close, val=False)
        for place, factor in enumerate(self.open):
            one, best = self.candidates[factor], current.scores.best[place]
            shape = one.shapes[int(places[place] - np.searchsorted(self.table.owner, factor))]
            p = float(current.p[place])
            self.links[int(factor)] = MeasuredLink(
                one.name,
                one.parameter.step,
                p,
                "some" if p <= SOME else "none",
                shape_words(one, shape, float(current.scores.z[best])),
                alike=tuple(self.candidates[other].name for other in self.open[close[place]]),
            )
            self.order[int(factor)] = (MOST_CLAIMS, -float(current.scores.strength[place]))

    def _claim(self, current: _Round, leader: int, turn: int) -> None:
        factor = int(self.open[leader])
        p_week = float(self._round(self.fixed, self._week_ratio()).p[leader])
        p_calendar = self._p_beside_curves(factor)
        passed = p_week <= WEEK_GATE and p_calendar <= CALENDAR_GATE
        evidence: Evidence = "strong" if passed else "calendar"
        known = self.links[factor]
        self.links[factor] = replace(known, evidence=evidence, p_week=p_week, p_calendar=p_calendar)
        self.order[factor] = (turn, 0.0)
        best = np.flatnonzero(np.isin(self.table.owner, self.open))[current.scores.best[leader]]
        self.fixed = np.column_stack([self.fixed, self.table.columns[:, best]])
        closed = {known.column, *known.alike}
        self.open = np.array(
            [one for one in self.open if self.candidates[one].name not in closed], dtype=int
        )

    def _p_beside_curves(self, factor: int) -> float:
        fixed = self._beside_curves()
        mine = self.table.owner == factor
        result = score(
            _left_over(fixed, self.table.columns[:, mine]),
            _left_over(fixed, self.scores[:, None])[:, 0],
            np.zeros(int(mine.sum()), dtype=int),
            self.table.positive[mine],
            self.orders,
            weights=self.table.weights[mine],
        )
        return float(share_reaching(result.by_chance[0], result.strength)[0])

    def _beside_curves(self) -> np.ndarray:
        """Add the calendar curves that the scores follow most closely to what is fixed."""
        fixed, runs = self.fixed, len(self.scores)
        shapes = curves(runs)
        for count in range(MOST_CURVES):
            scores = _left_over(fixed, self.scores[:, None])[:, 0]
            remaining = _left_over(fixed, shapes)
            size = np.sqrt((remaining**2).sum(axis=0))
            explained = np.where(size > WEAK, scores @ remaining / np.maximum(size, WEAK), 0.0) ** 2
            best, total = int(np.argmax(explained)), max(float((scores**2).sum()), WEAK)
            gain = -runs * np.log(max(1.0 - explained[best] / total, WEAK))
            # The best of many curves gains more than a single one by luck: twice the usual price.
            if count >= FEWEST_CURVES and gain <= 2.0 * np.log(runs):
                break
            fixed = np.column_stack([fixed, shapes[:, best]])
        return fixed

    def _week_ratio(self) -> float:
        """Return the variance of weeks over that of runs under which the scores are likeliest."""
        scores = _left_over(self.fixed, self.scores[:, None])[:, 0]
        counts, sums = self.weeks.sum(axis=0), self.weeks.T @ scores
        ratios = np.array(WEEK_RATIOS)[:, None]
        swollen = 1.0 + ratios * counts
        quadratic = (scores**2).sum() - (ratios / swollen * sums**2).sum(axis=1)
        fit = np.log(swollen).sum(axis=1) + len(scores) * np.log(np.maximum(quadratic, WEAK))
        return WEEK_RATIOS[int(np.argmin(fit))]


def _left_over(
    fixed: np.ndarray, columns: np.ndarray, weeks: tuple[np.ndarray, float] | None = None
) -> np.ndarray:
    """Return *columns* less their fit on *fixed*, and on weeks drawn to 0 by 1 / ratio."""
    together, ridge = fixed, np.zeros(fixed.shape[1])
    if weeks is not None:
        together = np.column_stack([fixed, weeks[0]])
        ridge = np.concatenate([ridge, np.full(weeks[0].shape[1], 1.0 / weeks[1])])
    inverse = np.linalg.pinv(together.T @ together + np.diag(ridge))
    return np.asarray(columns - together @ (inverse @ (together.T @ columns)))
