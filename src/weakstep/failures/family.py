"""One failure family: from the screen's links to factors with shares, windows and curves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.calendar import curves_needed
from weakstep.failures.levels import best_level, simulate_levels
from weakstep.failures.null_model import (
    SLOPE_SD,
    Background,
    NullFit,
    fit_null,
    fitted_operator_background,
    overdispersion,
)
from weakstep.failures.posterior import ShapeFits, fit_shapes, tempered_null, with_skew
from weakstep.failures.shares import Draws, simulate
from weakstep.failures.windows import (
    Choice,
    Limits,
    choose_window,
    possible_limits,
    rated_range,
)

if TYPE_CHECKING:
    from weakstep.failures.candidates import Candidate
    from weakstep.failures.links import Link
    from weakstep.process.model import Process
    from weakstep.runlog.model import RunTable

PRIOR_CLAIMED = 0.5
PRIOR_HINTED = 0.2
DRAWS = 400
DRAWS_ACQUITTED = 120


@dataclass(frozen=True, eq=False)
class Effect:
    """
    What one factor may do in one family.

    Attributes
    ----------
    link : Link
    prior : float
        Probability, before the fit, that it or a factor alike to it has an effect.
    log_bayes : float
        Log Bayes factor against no effect.
    belief : float
        The same for a mild effect; orders factors of the same evidence.
    limits : Limits or None
        None for categories.
    draws : Draws
    choice : Choice
    """

    link: Link
    prior: float
    log_bayes: float
    belief: float
    limits: Limits | None
    draws: Draws
    choice: Choice


class FamilyEffects:
    """Works out the effects of all candidates in one family from shared null fits."""

    def __init__(
        self,
        process: Process,
        runs: RunTable,
        candidates: tuple[Candidate, ...],
        links: tuple[Link, ...],
        failed: np.ndarray,
    ):
        self.process = process
        self.runs = runs
        self.candidates = candidates
        self.links = {link.factor: link for link in links}
        self.failed = failed
        self.claimed = [link for link in links if link.claimed is not None]
        self._plain = fitted_operator_background(runs.operator, failed, runs.tested)
        self._nulls: dict[frozenset[int], NullFit] = {}
        # What claimed factors explain is no overdispersion.
        claimed = self._background(frozenset(one.factor for one in self.claimed))
        self._phi = overdispersion(fit_null(claimed, failed, runs.tested))
        strong = frozenset(one.factor for one in self.claimed if one.evidence == "strong")
        counts = failed / self._phi, runs.tested / self._phi
        self._plain = self._plain.with_columns(
            curves_needed(self._background(strong), *counts), SLOPE_SD
        )

    def effects(self, rng: np.random.Generator) -> tuple[Effect, ...]:
        """Return one Effect per candidate, in the order of the candidates."""
        fits = {factor: self._fits(factor) for factor in self.links}
        log_bayes = {factor: fit.log_bayes_factor for factor, fit in fits.items()}
        return tuple(
            self._effect(self.links[factor], fits[factor], log_bayes, rng)
            for factor in sorted(self.links)
        )

    def rivals(self, factor: int) -> tuple[int, ...]:
        """Return the factors alike to it, without those it is computed from or that hold it."""
        me = self.candidates[factor]
        return tuple(
            other
            for other in self.links[factor].alike
            if self.candidates[other].name not in me.parts
            and me.name not in self.candidates[other].parts
        )

    def _beside(self, factor: int) -> frozenset[int]:
        link = self.links[factor]
        return frozenset(
            one.factor
            for one in self.claimed
            if one.factor != factor and one.factor not in link.alike and factor not in one.alike
        )

    def _background(self, factors: frozenset[int]) -> Background:
        background = self._plain
        for other in sorted(factors):
            column = self.candidates[other].columns[:, self.links[other].shape]
            background = background.with_columns(column, SLOPE_SD)
        return background

    def _null(self, factor: int) -> NullFit:
        beside = self._beside(factor)
        if beside not in self._nulls:
            self._nulls[beside] = tempered_null(
                self._background(beside), self.failed, self.runs.tested, self._phi
            )
        return self._nulls[beside]

    def _fits(self, factor: int) -> ShapeFits:
        candidate = self.candidates[factor]
        failed, tested = self.failed / self._phi, self.runs.tested / self._phi
        # Which parameter it is, is judged by how likely each kind is; how much it does, with every
        # kind as likely as another: else lines would make too little of cliffs.
        weights = np.array([1.0 / shape.siblings for shape in candidate.shapes])
        return fit_shapes(
            self._null(factor), candidate.columns, candidate.positive, failed, tested, weights
        )

    def _prior(self, factor: int) -> float:
        group = [self.links[one] for one in (factor, *self.links[factor].alike)]
        if any(link.claimed is not None for link in group):
            return PRIOR_CLAIMED
        if self.links[factor].evidence == "some":
            return PRIOR_HINTED
        return 1.0 / max(len(self.candidates), 2)

    def _mass(self, factor: int, log_bayes: dict[int, float]) -> float:
        """Return the probability that this factor, not a rival or none, has the effect."""
        rivals = self.rivals(factor)
        prior = self._prior(factor)
        weight = prior / (1 + len(rivals))
        logs = np.array([log_bayes[one] for one in (factor, *rivals)]) + np.log(weight)
        logs = np.append(logs, np.log(1.0 - prior))
        raw = np.exp(logs - logs.max())
        return float(raw[0] / raw.sum())

    def _effect(
        self, link: Link, fits: ShapeFits, log_bayes: dict[int, float], rng: np.random.Generator
    ) -> Effect:
        candidate = self.candidates[link.factor]
        null = self._null(link.factor)
        mass = self._mass(link.factor, log_bayes)
        tested = self.runs.tested
        draws = DRAWS_ACQUITTED if link.evidence == "none" else DRAWS
        if link.evidence != "none":
            counts = self.failed / self._phi, tested / self._phi
            fits = with_skew(fits, null, candidate.columns, *counts)
        prior, bayes = self._prior(link.factor), log_bayes[link.factor]
        belief = fits.belief(candidate.weights)
        if candidate.kind == "category":
            simulated = simulate_levels(candidate, fits, null, mass, tested, draws, rng)
            choice = best_level(candidate, simulated)
            return Effect(link, prior, bayes, belief, None, simulated, choice)
        low, high = rated_range(self.process, self.runs, candidate.name)
        limits = possible_limits(candidate, low, high)
        simulated = simulate(candidate, fits, null, mass, tested, limits.values, draws, rng)
        return Effect(
            *(link, prior, bayes, belief, limits, simulated),
            choose_window(candidate, limits, simulated),
        )
