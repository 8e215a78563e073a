"""Pairs of parameters that the description lists: whether they act together beyond their sum."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.model import Evidence, Interaction
from weakstep.failures.null_model import SLOPE_SD, Background, fit_null, operator_background
from weakstep.failures.permuting import Orders, score, share_reaching
from weakstep.failures.words import named

if TYPE_CHECKING:
    from weakstep.failures.candidates import Candidate
    from weakstep.failures.links import Link, Outcomes
    from weakstep.process.model import Process

STRONG, SOME = 0.01, 0.30
FEWEST_RUNS = 40


def interactions(
    process: Process,
    outcomes: Outcomes,
    candidates: tuple[Candidate, ...],
    links: Mapping[str, tuple[Link, ...]],
    orders: Orders,
) -> tuple[Interaction, ...]:
    r"""
    Test each listed pair for acting together, beside what each does alone.

    The null model holds who ran it, the claimed factors, and of both parameters of every listed
    pair a line, a square and a bend at the middle. Beyond it, products of the pair's lines and of
    their upper halves, :math:`u_a u_b` and :math:`(u_a - m_a)^+ (u_b - m_b)^+` in all four
    directions, are scored together against re-orderings of whole runs within operators. The
    family-wise 0.05 of the review is shared: 0.04 for parameters, 0.01 for all pairs and families.

    Parameters
    ----------
    process : Process
    outcomes : Outcomes
    candidates : tuple of Candidate
    links : mapping of family name to tuple of Link
        From the screen.
    orders : Orders

    Returns
    -------
    tuple of Interaction
        One per pair and family that this log can be asked about; needs 40 runs.
    """
    place = {one.name: i for i, one in enumerate(candidates) if one.kind == "number"}
    pairs = [(a, b) for a, b in process.interactions if a in place and b in place]
    if not pairs or len(outcomes.tested) < FEWEST_RUNS:
        return ()
    alone = {name: _alone(candidates[place[name]]) for pair in pairs for name in pair}
    products = [_products(alone[a][:, 0], alone[b][:, 0]) for a, b in pairs]
    owner = np.repeat(np.arange(len(pairs)), [block.shape[1] for block in products])
    either_sign = np.full(len(owner), 0.5)
    results = {}
    for family, failed in outcomes.failed.items():
        background = operator_background(outcomes.operator)
        for link in links[family]:
            if link.claimed is not None:
                column = candidates[link.factor].columns[:, link.shape]
                background = background.with_columns(column, SLOPE_SD)
        background = _with_all(background, alone)
        fit = fit_null(background, failed, outcomes.tested)
        projected = fit.project(np.column_stack(products))
        results[family] = score(projected, fit.residuals, owner, either_sign, orders)
    largest = np.max([one.by_chance.max(axis=0) for one in results.values()], axis=0)
    found = []
    for family, result in results.items():
        p = share_reaching(largest, result.strength)
        for i, (a, b) in enumerate(pairs):
            rises = result.z[np.flatnonzero(owner == i)[0]] > 0
            found.append(_told(process, family, (a, b), float(p[i]), rises=bool(rises)))
    return tuple(found)


def _alone(candidate: Candidate) -> np.ndarray:
    """Return line, square and bend at the middle, shape (n_runs, 3); 0 where not logged."""
    line = candidate.columns[:, 0]
    middle = np.median(line)
    columns = np.column_stack([line, line**2, np.maximum(line - middle, 0.0)])
    return np.asarray((columns - columns.mean(axis=0)) / np.maximum(columns.std(axis=0), 1e-9))


def _products(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Return the product of the lines and of their halves above and below the middle."""
    a, b = a - np.median(a), b - np.median(b)
    halves = [
        np.maximum(one * a, 0.0) * np.maximum(other * b, 0.0)
        for one in (1.0, -1.0)
        for other in (1.0, -1.0)
    ]
    return np.column_stack([a * b, *halves])


def _with_all(background: Background, alone: Mapping[str, np.ndarray]) -> Background:
    for columns in alone.values():
        background = background.with_columns(columns, SLOPE_SD)
    return background


def _told(
    process: Process, family: str, pair: tuple[str, str], p: float, *, rises: bool
) -> Interaction:
    evidence: Evidence = "strong" if p <= STRONG else "some" if p <= SOME else "none"
    one, other = (named(process.parameter(name)) for name in pair)
    if evidence == "none":
        words = f"No sign that {one} and {other} act together"
    else:
        where = "both high or both low" if rises else "one high and the other low"
        sure = "act together" if evidence == "strong" else "may act together, or it is luck"
        words = f"{one} and {other} {sure}: more failures than each alone explains with {where}"
        words = words[:1].upper() + words[1:]
    return Interaction(family, pair, p, evidence, f"{words}.")
