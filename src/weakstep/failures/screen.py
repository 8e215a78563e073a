"""The screen: which factors are linked to failures beyond what the order of runs can do."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.belief import belief_in
from weakstep.failures.calendar import background_with_best_curves, weeks_or_blocks
from weakstep.failures.candidates import side_by_side
from weakstep.failures.links import Link, Outcomes, correlations_within
from weakstep.failures.null_model import (
    SLOPE_SD,
    Background,
    NullFit,
    fit_null,
    fit_null_with_weeks,
    fitted_operator_background,
    overdispersion,
)
from weakstep.failures.permuting import Orders, Scores, score, share_reaching
from weakstep.failures.posterior import tempered_null

if TYPE_CHECKING:
    from weakstep.failures.candidates import Candidate
    from weakstep.failures.model import Evidence

CLAIM = 0.04
"""0.05 in all, of which 0.01 is kept for pairs that act together."""
CLAIM_AGAIN = 0.02
MOST_CLAIMS = 3
WEEK_GATE = 0.04
CALENDAR_GATE = 0.02
HINT = 0.30
ALIKE = 0.6
CLOSE_TIE = 1.0
"""Difference in belief (a log Bayes factor) below which two factors tie."""


@dataclass(eq=False)
class _Family:
    """Working state of one family while factors are claimed one after another."""

    name: str
    failed: np.ndarray
    background: Background
    open: np.ndarray
    links: dict[int, Link]


@dataclass(frozen=True, eq=False)
class _Round:
    """Scores of every open factor of every family, and the largest T of each re-ordering."""

    scores: dict[str, Scores]
    largest: np.ndarray


class _Screen:
    """The screen's fixed inputs and the steps that use them."""

    def __init__(self, outcomes: Outcomes, candidates: tuple[Candidate, ...], orders: Orders):
        self.outcomes = outcomes
        self.candidates = candidates
        self.orders = orders
        self.table = side_by_side(candidates)
        self.blocks = weeks_or_blocks(outcomes.week)
        everything = np.arange(len(candidates))
        self.families = [
            _Family(
                name,
                failed,
                fitted_operator_background(outcomes.operator, failed, outcomes.tested),
                everything,
                {},
            )
            for name, failed in outcomes.failed.items()
        ]

    def run(self) -> dict[str, tuple[Link, ...]]:
        """Claim factors until none is left to claim, and return the links of each family."""
        for turn in range(MOST_CLAIMS):
            current = self._round(weeks=False)
            for family in self.families:
                self._record(family, current)
            if not self._claim(current, turn):
                break
        return {family.name: tuple(family.links.values()) for family in self.families}

    def _fit(self, family: _Family, *, weeks: bool) -> NullFit:
        tested = self.outcomes.tested
        if weeks:
            return fit_null_with_weeks(family.background, self.blocks, family.failed, tested)
        return fit_null(family.background, family.failed, tested)

    def _scores(self, factors: np.ndarray, fit: NullFit) -> Scores:
        """Score the shapes of these factors (ascending) against what *fit* leaves over."""
        table = self.table
        chosen = np.isin(table.owner, factors)
        return score(
            fit.project(table.columns[:, chosen]),
            fit.residuals,
            np.searchsorted(factors, table.owner[chosen]),
            table.positive[chosen],
            self.orders,
            table.told[chosen],
            fit,
            table.weights[chosen],
        )

    def _round(self, *, weeks: bool) -> _Round:
        scores = {}
        largest = np.zeros(self.orders.places.shape[1])
        for family in self.families:
            if not len(family.open):
                continue
            fit = self._fit(family, weeks=weeks)
            result = self._scores(family.open, fit)
            scores[family.name] = result
            largest = np.maximum(largest, result.by_chance.max(axis=0))
        return _Round(scores, largest)

    def _record(self, family: _Family, current: _Round) -> None:
        if family.name not in current.scores:
            return
        scores = current.scores[family.name]
        p = share_reaching(current.largest, scores.strength)
        positions = np.concatenate(
            [np.arange(len(self.candidates[factor].shapes)) for factor in family.open]
        )
        shapes = positions[scores.best]
        told = [
            self.candidates[factor].columns[:, shape]
            for factor, shape in zip(family.open, shapes, strict=True)
        ]
        close = np.abs(correlations_within(np.column_stack(told), self.orders.strata)) >= ALIKE
        np.fill_diagonal(close, val=False)
        for place, factor in enumerate(family.open):
            best = scores.best[place]
            evidence: Evidence = "some" if p[place] <= HINT else "none"
            family.links[int(factor)] = Link(
                int(factor),
                int(shapes[place]),
                float(scores.z[best]),
                float(scores.strength[place]),
                float(p[place]),
                None,
                None,
                evidence,
                None,
                tuple(int(other) for other in family.open[close[place]]),
            )

    def _claim(self, current: _Round, turn: int) -> bool:
        limit = CLAIM if turn == 0 else CLAIM_AGAIN
        leaders = [
            (family, leader)
            for family in self.families
            if (leader := self._leader(family, limit)) is not None
        ]
        if not leaders:
            return False
        by_week = self._round(weeks=True)
        for family, leader in leaders:
            place = int(np.searchsorted(family.open, leader.factor))
            strength = by_week.scores[family.name].strength[[place]]
            p_week = float(share_reaching(by_week.largest, strength)[0])
            p_calendar = self._calendar_gate(family, leader.factor)
            passed = p_week <= WEEK_GATE and p_calendar <= CALENDAR_GATE
            family.links[leader.factor] = replace(
                leader,
                p_week=p_week,
                p_calendar=p_calendar,
                evidence="strong" if passed else "calendar",
                claimed=turn,
            )
            self._close(family, family.links[leader.factor])
        return True

    def _leader(self, family: _Family, limit: float) -> Link | None:
        links = [family.links[int(factor)] for factor in family.open]
        links = [link for link in links if link.p <= limit]
        if not links:
            return None
        belief = self._beliefs(family, links)
        best = max(links, key=lambda link: belief[link.factor])
        parts = [
            family.links[other]
            for other in best.alike
            if self.candidates[other].name in self.candidates[best.factor].parts
        ]
        ties = [
            part
            for part in parts
            if part.p <= limit and belief[best.factor] - belief[part.factor] < CLOSE_TIE
        ]
        # A setting that was logged can be held; a number computed from it cannot.
        return max(ties, key=lambda link: belief[link.factor], default=best)

    def _beliefs(self, family: _Family, links: list[Link]) -> dict[int, float]:
        """Weigh factors that passed by their full likelihoods, whose peaks T only looks up to."""
        if len(links) == 1:
            return {links[0].factor: 0.0}
        failed, tested = family.failed, self.outcomes.tested
        phi = overdispersion(fit_null(family.background, failed, tested))
        null = tempered_null(family.background, failed, tested, phi)
        counts = failed / phi, tested / phi
        return {
            link.factor: belief_in(self.candidates[link.factor], null, *counts) for link in links
        }

    def _calendar_gate(self, family: _Family, factor: int) -> float:
        tested = self.outcomes.tested
        background = background_with_best_curves(family.background, family.failed, tested)
        fit = fit_null(background, family.failed, tested)
        result = self._scores(np.array([factor]), fit)
        return float(share_reaching(result.by_chance[0], result.strength)[0])

    def _close(self, family: _Family, claimed: Link) -> None:
        column = self.candidates[claimed.factor].columns[:, claimed.shape]
        family.background = family.background.with_columns(column, SLOPE_SD)
        closed = {claimed.factor, *claimed.alike}
        family.open = np.array([one for one in family.open if one not in closed], dtype=int)


def screen(
    outcomes: Outcomes, candidates: tuple[Candidate, ...], orders: Orders
) -> dict[str, tuple[Link, ...]]:
    """
    Rank every candidate against every family under one family-wise budget.

    Single-step maximum of T over factors and families; claimed factors join the null model
    and the rest is judged again beside them (at most 3 claims a family; 0.04, then 0.02).

    Parameters
    ----------
    outcomes : Outcomes
    candidates : tuple of Candidate
        At least one.
    orders : Orders

    Returns
    -------
    dict of family name to tuple of Link
        One link per candidate; p is conditional on the factors claimed before it.

    References
    ----------
    Westfall, P. H. & Young, S. S. (1993), Resampling-Based Multiple Testing, chapter 2.
    """
    return _Screen(outcomes, candidates, orders).run()
