"""RunLog -> FailureAnalysis: tally, ranking, shares, models and the verdict, in this order."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.by_mode import links_by_mode
from weakstep.failures.candidates import Candidate, gather, pool_small_strata
from weakstep.failures.interactions import interactions
from weakstep.failures.links import Outcomes
from weakstep.failures.measured import measured_outcomes
from weakstep.failures.model import (
    Factor,
    FailureAnalysis,
    FailureModel,
    Interaction,
    Needed,
    StepRank,
    Suspicion,
    Tally,
    Verdict,
)
from weakstep.failures.models import report_models
from weakstep.failures.needed import runs_needed
from weakstep.failures.ranking import rank
from weakstep.failures.sensitivity import sensitivity
from weakstep.failures.tally import tally
from weakstep.failures.toofew import (
    FRAGILE,
    notes_on_measured,
    nothing_to_rank,
    too_little,
)
from weakstep.failures.unlogged import notes_on_unlogged
from weakstep.failures.verdict import log_more, look_closer, next_after, tighten
from weakstep.failures.words import failures_words
from weakstep.failures.yields import suspicions

if TYPE_CHECKING:
    from weakstep.process.model import Process
    from weakstep.runlog.model import RunLog, RunTable


@dataclass(frozen=True, eq=False)
class _Ready:
    """What the ranking works on: runs with tested chips, families with enough failures."""

    runs: RunTable
    strata: np.ndarray
    failed: dict[str, np.ndarray]
    notes: tuple[str, ...]


def analyse(
    log: RunLog, *, seed: int, permutations: int = 1999, ranking_only: bool = False
) -> FailureAnalysis:
    """
    Rank what failures are linked to, and say which step to tighten first.

    The unit is the run. Every parameter of the description that varies, and every category, is
    judged by many shapes against re-orderings of whole runs within operators, under one family-wise
    budget over all parameters, shapes and families.

    Parameters
    ----------
    log : RunLog
    seed : int
        Makes the re-orderings and draws repeatable.
    permutations : int, default 1999
    ranking_only : bool, default False
        Leave out the reported models and the sensitivity lines.

    Returns
    -------
    FailureAnalysis
        Complete for any log: what could not be done stands in `notes` and in the verdict.

    References
    ----------
    Westfall, P. H. & Young, S. S. (1993), Resampling-Based Multiple Testing.
    """
    counted = tally(log)
    ready = _prepare(log)
    candidates, left_out = (
        gather(log.process, ready.runs, ready.strata) if ready.failed else ((), ())
    )
    notes = (*ready.notes, *left_out)
    measured = () if ranking_only else measured_outcomes(log, seed=seed, permutations=permutations)
    if not ready.failed or not candidates:
        verdict = nothing_to_rank(log.process, ready.runs, measured, rankable=bool(ready.failed))
        return FailureAnalysis(counted, (), (), (), verdict, notes, measured=measured)
    found = _rank(log, ready, candidates, seed, permutations, with_models=not ranking_only)
    first = found.factors[0]
    needed = None
    if first.evidence in ("some", "none") and not ranking_only:
        needed = runs_needed(found.outcomes, candidates, np.random.default_rng([seed, 11]))
    further = [one for one in found.factors[1:] if one.evidence == "strong"]
    after = (next_after(one, log.process) for one in further)
    return FailureAnalysis(
        counted,
        found.factors,
        found.steps,
        found.models,
        _decide(log.process, found.factors, len(candidates), len(ready.runs), needed),
        (*after, *notes_on_measured(log.process, measured), *notes, *found.notes),
        () if ranking_only else sensitivity(log.process, ready.runs, ready.failed, first, seed),
        () if ranking_only else _suspicions(log, counted, ready, candidates, found, seed),
        found.together,
        measured,
        needed,
    )


@dataclass(frozen=True, eq=False)
class _Ranked:
    """What the screen found and what was made of it."""

    outcomes: Outcomes
    factors: tuple[Factor, ...]
    steps: tuple[StepRank, ...]
    models: tuple[FailureModel, ...]
    together: tuple[Interaction, ...]
    notes: tuple[str, ...]


def _rank(
    log: RunLog,
    ready: _Ready,
    candidates: tuple[Candidate, ...],
    seed: int,
    permutations: int,
    *,
    with_models: bool,
) -> _Ranked:
    rng = np.random.default_rng(seed)
    runs = ready.runs
    outcomes = Outcomes(runs.tested, ready.failed, runs.operator, runs.week)
    ranking = rank(log.process, runs, candidates, outcomes, ready.strata, permutations, rng)
    links = ranking.links
    models: tuple[FailureModel, ...] = ()
    if with_models:
        models = tuple(
            model
            for family, failed in ready.failed.items()
            for model in report_models(
                family,
                candidates,
                links[family],
                next(one.column for one in ranking.factors if one.family == family),
                ready.strata,
                runs,
                failed,
                seed,
            )
        )
    together = interactions(log.process, outcomes, candidates, links, ranking.orders)
    unlogged = notes_on_unlogged(log.process, outcomes, candidates, ranking.orders)
    return _Ranked(outcomes, ranking.factors, ranking.steps, models, together, unlogged)


def _suspicions(
    log: RunLog,
    counted: Tally,
    ready: _Ready,
    candidates: tuple[Candidate, ...],
    found: _Ranked,
    seed: int,
) -> tuple[Suspicion, ...]:
    rng = np.random.default_rng([seed, 13])
    by_mode = links_by_mode(log, ready.runs, candidates, found.factors, ready.strata, rng)
    return suspicions(log.process, tuple(one.mode for one in counted.modes), found.steps, by_mode)


def _prepare(log: RunLog) -> _Ready:
    runs = log.runs.only(np.asarray(log.runs.tested) > 0)
    labels = {family.name: family.label for family in log.process.families}
    enough: dict[str, np.ndarray] = {}
    notes: list[str] = []
    for name, failed in runs.failed.items():
        label = labels.get(name, name)
        note = too_little(label, failed, runs.tested)
        if note is None:
            enough[name] = failed
            if failed.sum() < FRAGILE:
                notes.append(
                    f"Only {int(failed.sum())} {failures_words(label)}: the ranking is fragile, a "
                    "few more or fewer could change it."
                )
        elif failed.sum():
            notes.append(note)
    strata = pool_small_strata(runs.operator.astype(str))
    return _Ready(runs, strata, enough, tuple(notes))


def _decide(
    process: Process, factors: tuple[Factor, ...], ranked: int, runs: int, needed: Needed | None
) -> Verdict:
    first = factors[0]
    if first.evidence == "strong":
        return tighten(first, process)
    if first.evidence == "calendar":
        return look_closer(first, process)
    return log_more(ranked, runs, needed, first if first.evidence == "some" else None, process)
