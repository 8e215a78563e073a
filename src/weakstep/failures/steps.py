"""What holding all parameters of a step in their windows at once would prevent."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.model import Evidence, StepRank
from weakstep.failures.shares import LEVEL
from weakstep.interval import Interval

if TYPE_CHECKING:
    from weakstep.failures.candidates import Candidate
    from weakstep.failures.family import Effect

DRAWS = 1000
LARGEST_PRIOR = 0.9
ORDER: tuple[Evidence, ...] = ("strong", "calendar", "some", "none")


def rank_steps(
    family: str,
    candidates: tuple[Candidate, ...],
    effects: tuple[Effect, ...],
    rng: np.random.Generator,
) -> tuple[StepRank, ...]:
    """
    Rank the steps of the process for one family.

    Each claimed factor of a step, with the factors alike to it, is one possible source of
    failures; all factors that were not claimed share one more source, of which at most one is
    taken to be real. With s the share each source prevents in a draw, the step prevents
    1 - product (1 - s).

    Parameters
    ----------
    family : str
    candidates : tuple of Candidate
    effects : tuple of Effect
        One per candidate, in the same order.
    rng : Generator

    Returns
    -------
    tuple of StepRank
        Ordered by evidence, then by share; identity columns belong to no step.
    """
    ranked = []
    steps = dict.fromkeys(one.parameter.step for one in candidates if one.parameter.step)
    for step in steps:
        members = [i for i, one in enumerate(candidates) if one.parameter.step == step]
        left = np.ones(DRAWS)
        for group in _groups(members, effects):
            left = left * (1.0 - _draw_group(group, effects, rng))
        share = 1.0 - left
        low, high = np.quantile(share, [0.5 - LEVEL / 2.0, 0.5 + LEVEL / 2.0])
        mean = max(0.0, float(share.mean()))
        # What the step's best factor may prevent, the step may prevent too.
        high = max([float(high), *(_upper(effects[i]) for i in members)])
        interval = Interval(mean, min(max(0.0, float(low)), mean), max(float(high), mean), LEVEL)
        evidence = min((effects[i].link.evidence for i in members), key=ORDER.index)
        strongest = max(effects[i].link.strength for i in members)
        ranked.append((step, interval, evidence, strongest))
    ranked.sort(key=lambda row: (ORDER.index(row[2]), -row[1].estimate, -row[3]))
    return tuple(
        StepRank(family, step, place, interval, evidence)
        for place, (step, interval, evidence, _) in enumerate(ranked, start=1)
    )


def _upper(effect: Effect) -> float:
    return effect.draws.share(effect.choice.prevented).upper


def _groups(members: list[int], effects: tuple[Effect, ...]) -> list[list[int]]:
    groups: list[list[int]] = []
    taken: set[int] = set()
    for index in members:
        link = effects[index].link
        if link.claimed is not None:
            group = [index, *(one for one in link.alike if one in members and one not in taken)]
            groups.append(group)
            taken.update(group)
    rest = [index for index in members if index not in taken]
    return [*groups, rest] if rest else groups


def _draw_group(
    group: list[int], effects: tuple[Effect, ...], rng: np.random.Generator
) -> np.ndarray:
    """Draw the share one source prevents: of one member, or 0 when the source lies elsewhere."""
    outside = {
        other for index in group for other in effects[index].link.alike if other not in group
    }
    everyone = [*group, *sorted(outside)]
    prior = np.array([effects[i].prior / (1 + len(effects[i].link.alike)) for i in everyone])
    prior *= min(1.0, LARGEST_PRIOR / prior.sum())
    logs = np.append(
        np.log(prior) + [effects[i].log_bayes for i in everyone], np.log(1.0 - prior.sum())
    )
    raw = np.exp(logs - logs.max())
    places = (rng.permutation(DRAWS) + 0.5) / DRAWS
    chosen = np.searchsorted(np.cumsum(raw / raw.sum()), places)
    share = np.zeros(DRAWS)
    for place, index in enumerate(group):
        mine = np.flatnonzero(chosen == place)
        effect = effects[index]
        draws = effect.choice.prevented / effect.draws.total
        share[mine] = draws[rng.integers(len(draws), size=len(mine))]
    return share
