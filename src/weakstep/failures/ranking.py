"""The ranking alone: factors with shares and windows, and steps, of families with enough data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from weakstep.failures.factors import make_factors
from weakstep.failures.family import FamilyEffects
from weakstep.failures.permuting import draw_orders
from weakstep.failures.screen import screen
from weakstep.failures.steps import ORDER, rank_steps

if TYPE_CHECKING:
    import numpy as np

    from weakstep.failures.candidates import Candidate
    from weakstep.failures.links import Link, Outcomes
    from weakstep.failures.model import Factor, StepRank
    from weakstep.failures.permuting import Orders
    from weakstep.process.model import Process
    from weakstep.runlog.model import RunTable


@dataclass(frozen=True, eq=False)
class Ranking:
    """
    What failures are linked to.

    Attributes
    ----------
    links : mapping of family name to tuple of Link
        One per candidate.
    factors : tuple of Factor
        All families, by evidence, then by belief.
    steps : tuple of StepRank
        All families, by evidence, then by share.
    orders : Orders
        The re-orderings of runs that were used.
    """

    links: Mapping[str, tuple[Link, ...]]
    factors: tuple[Factor, ...]
    steps: tuple[StepRank, ...]
    orders: Orders


def rank(
    process: Process,
    runs: RunTable,
    candidates: tuple[Candidate, ...],
    outcomes: Outcomes,
    strata: np.ndarray,
    permutations: int,
    rng: np.random.Generator,
) -> Ranking:
    """
    Rank every candidate and step against every family.

    Parameters
    ----------
    process : Process
    runs : RunTable
        Only runs with tested chips.
    candidates : tuple of Candidate
        At least one, of these runs.
    outcomes : Outcomes
        Of these runs.
    strata : array of int, shape (n_runs,)
        Who ran it, small groups pooled.
    permutations : int
    rng : Generator

    Returns
    -------
    Ranking
    """
    orders = draw_orders(strata, permutations, rng)
    links = screen(outcomes, candidates, orders)
    belief: dict[tuple[str, str], float] = {}
    factors: list[Factor] = []
    steps: list[StepRank] = []
    for family, failed in outcomes.failed.items():
        found = FamilyEffects(process, runs, candidates, links[family], failed).effects(rng)
        belief |= {(family, candidates[one.link.factor].name): one.belief for one in found}
        factors += make_factors(family, candidates, found, strata, failed, runs.tested)
        steps += rank_steps(family, candidates, found, rng)
    factors.sort(key=lambda one: (ORDER.index(one.evidence), -belief[one.family, one.column]))
    steps.sort(key=lambda one: (ORDER.index(one.evidence), -one.preventable_share.estimate))
    return Ranking(links, tuple(factors), tuple(steps), orders)
