"""The factors of one family as they are told: ranked, with shares, windows and odds ratios."""

from __future__ import annotations

from typing import TYPE_CHECKING

from weakstep.failures.expectations import against
from weakstep.failures.model import Factor
from weakstep.failures.odds import odds_ratios
from weakstep.failures.steps import ORDER
from weakstep.failures.windows import failure_curve, tightening_curves
from weakstep.failures.words import shape_words

if TYPE_CHECKING:
    import numpy as np

    from weakstep.failures.candidates import Candidate
    from weakstep.failures.family import Effect
    from weakstep.failures.links import Link
    from weakstep.interval import Interval


def make_factors(
    family: str,
    candidates: tuple[Candidate, ...],
    effects: tuple[Effect, ...],
    strata: np.ndarray,
    failed: np.ndarray,
    tested: np.ndarray,
) -> list[Factor]:
    """
    Put together what is told of each candidate in one family, by rank.

    Parameters
    ----------
    family : str
    candidates : tuple of Candidate
    effects : tuple of Effect
        In the same order.
    strata : array of int, shape (n_runs,)
    failed, tested : array of int, shape (n_runs,)

    Returns
    -------
    list of Factor
        Ordered by evidence, then by belief.
    """
    links = tuple(effect.link for effect in effects)
    odds = odds_ratios(candidates, links, strata, failed, tested)
    order = sorted(
        range(len(effects)),
        key=lambda index: (ORDER.index(links[index].evidence), -effects[index].belief),
    )
    return [
        _factor(
            family,
            rank,
            candidates[index],
            effects[index],
            *odds[index],
            _alike_names(links[index], candidates, links),
        )
        for rank, index in enumerate(order, start=1)
    ]


def _factor(
    family: str,
    rank: int,
    candidate: Candidate,
    effect: Effect,
    ratio: Interval | None,
    per: str,
    alike: tuple[str, ...],
) -> Factor:
    link, limits, draws = effect.link, effect.limits, effect.draws
    return Factor(
        family=family,
        column=candidate.name,
        step=candidate.parameter.step,
        rank=rank,
        preventable_share=draws.share(effect.choice.prevented),
        window=effect.choice.window,
        share_inside=effect.choice.inside,
        shape=shape_words(candidate, candidate.shapes[link.shape], link.z),
        odds_ratio=ratio,
        per=per,
        p=link.p,
        p_week=link.p_week,
        p_calendar=link.p_calendar,
        evidence=link.evidence,
        alike=alike,
        missing=candidate.missing,
        surprising=against(candidate.shapes[link.shape], link.z, candidate.parameter.worse_when),
        curve=None if limits is None else failure_curve(limits, draws),
        tightening=() if limits is None else tightening_curves(candidate, limits, draws),
        level=effect.choice.level,
    )


def _alike_names(
    link: Link, candidates: tuple[Candidate, ...], links: tuple[Link, ...]
) -> tuple[str, ...]:
    ordered = sorted(link.alike, key=lambda other: -links[other].strength)
    return tuple(candidates[other].name for other in ordered)
