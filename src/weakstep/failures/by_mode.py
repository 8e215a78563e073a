"""What each failure mode alone is linked to, step by step."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.candidates import side_by_side
from weakstep.failures.null_model import fit_null, operator_background
from weakstep.failures.permuting import Scores, draw_orders, score, share_reaching
from weakstep.failures.toofew import FEWEST_RUNS, FRAGILE

if TYPE_CHECKING:
    from weakstep.failures.candidates import Candidate
    from weakstep.failures.model import Evidence, Factor
    from weakstep.runlog.model import RunLog, RunTable

REORDERINGS = 499
MOST_MODES = 8
STRONG, SOME = 0.05, 0.30


@dataclass(frozen=True)
class ModeLink:
    """
    The parameter of one step that a mode is most linked to.

    Attributes
    ----------
    column : str
    p : float
        Family-wise over all parameters and shapes, and all modes that were asked.
    evidence : Evidence
        "strong" at p <= 0.05, and only where the review's ranking calls the parameter, or one
        alike to it, strong for the mode's family; "some" at p <= 0.30.
    """

    column: str
    p: float
    evidence: Evidence


def links_by_mode(
    log: RunLog,
    runs: RunTable,
    candidates: tuple[Candidate, ...],
    factors: Sequence[Factor],
    strata: np.ndarray,
    rng: np.random.Generator,
) -> Mapping[tuple[str, str], ModeLink]:
    """
    Score every parameter against each mode with at least 8 failures, in one family-wise budget.

    Parameters
    ----------
    log : RunLog
        Its chips name their run and their mode.
    runs : RunTable
        Only runs with tested chips.
    candidates : tuple of Candidate
    factors : sequence of Factor
        Of the review's ranking.
    strata : array of int, shape (n_runs,)
    rng : Generator

    Returns
    -------
    mapping of (mode, step) to ModeLink
        At most the 8 most frequent modes; steps without a parameter are left out.
    """
    counts = _counts(log, runs)
    if not counts or not candidates or len(runs) < FEWEST_RUNS:
        return {}
    table = side_by_side(candidates)
    orders = draw_orders(strata, REORDERINGS, rng)
    background = operator_background(runs.operator)
    scores: dict[str, Scores] = {}
    for mode, failed in counts.items():
        fit = fit_null(background, failed, runs.tested)
        scores[mode] = score(
            fit.project(table.columns),
            fit.residuals,
            table.owner,
            table.positive,
            orders,
            weights=table.weights,
        )
    largest = np.max([one.by_chance.max(axis=0) for one in scores.values()], axis=0)
    families = {mode.name: mode.family for mode in log.process.modes}
    found: dict[tuple[str, str], ModeLink] = {}
    for mode, result in scores.items():
        p = share_reaching(largest, result.strength)
        claimed = _claimed(factors, families[mode])
        for place in np.argsort(-result.strength, kind="stable"):
            one = candidates[place]
            key = mode, one.parameter.step
            if one.parameter.step and key not in found:
                evidence = _evidence(float(p[place]), sure=one.name in claimed)
                found[key] = ModeLink(one.name, float(p[place]), evidence)
    return found


def _evidence(p: float, *, sure: bool) -> Evidence:
    if p <= STRONG and sure:
        return "strong"
    return "some" if p <= SOME else "none"


def _claimed(factors: Sequence[Factor], family: str) -> set[str]:
    strong = [one for one in factors if one.family == family and one.evidence == "strong"]
    return {name for one in strong for name in (one.column, *one.alike)}


def _counts(log: RunLog, runs: RunTable) -> dict[str, np.ndarray]:
    """Return failed chips per run of the most frequent modes that have enough of them."""
    if "run" not in log.chips.columns:
        return {}
    place = {str(name): i for i, name in enumerate(runs.run_id)}
    known = {mode.name for mode in log.process.modes if mode.verdict == "failed"}
    counts: dict[str, np.ndarray] = {}
    chips = zip(log.chips["run"], log.chips["mode"], log.chips["failed"], strict=True)
    for run, mode, failed in chips:
        row = place.get(str(run))
        if row is not None and int(failed) and str(mode) in known:
            counts.setdefault(str(mode), np.zeros(len(runs), dtype=int))[row] += int(failed)
    enough = {
        mode: failed
        for mode, failed in counts.items()
        if failed.sum() >= FRAGILE and failed.sum() < runs.tested.sum()
    }
    frequent = sorted(enough, key=lambda mode: (-int(enough[mode].sum()), mode))
    return {mode: enough[mode] for mode in frequent[:MOST_MODES]}
