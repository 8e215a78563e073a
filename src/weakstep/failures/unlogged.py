"""Whether failures are linked to a parameter not having been logged."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.null_model import fit_null, operator_background
from weakstep.failures.permuting import Orders, score, share_reaching
from weakstep.failures.shapes import FEWEST_RUNS
from weakstep.failures.words import failures_words, named

if TYPE_CHECKING:
    from weakstep.failures.candidates import Candidate
    from weakstep.failures.links import Outcomes
    from weakstep.process.model import Process

LEVEL = 0.05


def notes_on_unlogged(
    process: Process, outcomes: Outcomes, candidates: tuple[Candidate, ...], orders: Orders
) -> tuple[str, ...]:
    """
    Test "was not logged" itself against failures, and tell where it is linked.

    Such a link is no reason to tighten anything: it says that the log keeps silent about runs that
    differ. It has its own family-wise budget of 0.05 over parameters and families.

    Parameters
    ----------
    process : Process
    outcomes : Outcomes
    candidates : tuple of Candidate
    orders : Orders

    Returns
    -------
    tuple of str
    """
    gaps = [
        one
        for one in candidates
        if int((~one.logged).sum()) >= FEWEST_RUNS and int(one.logged.sum()) >= FEWEST_RUNS
    ]
    if not gaps:
        return ()
    columns = np.column_stack([(~one.logged).astype(float) for one in gaps])
    owner, either_sign = np.arange(len(gaps)), np.full(len(gaps), 0.5)
    background = operator_background(outcomes.operator)
    results = {}
    for family, failed in outcomes.failed.items():
        fit = fit_null(background, failed, outcomes.tested)
        results[family] = score(fit.project(columns), fit.residuals, owner, either_sign, orders)
    largest = np.max([result.by_chance.max(axis=0) for result in results.values()], axis=0)
    labels = {family.name: failures_words(family.label) for family in process.families}
    notes = []
    for family, result in results.items():
        for index, p in enumerate(share_reaching(largest, result.strength)):
            if p <= LEVEL:
                more = "more" if result.z[index] > 0 else "fewer"
                notes.append(
                    f"Runs that did not log {named(gaps[index].parameter)} had {more} "
                    f"{labels[family]}: what the ranking says of it holds for the logged runs only."
                )
    return tuple(notes)
