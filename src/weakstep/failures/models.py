"""Which failure models a family gets: its claimed factors, in their unit and in their shape."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.odds import operator_columns
from weakstep.failures.reported import fit_reported
from weakstep.failures.terms import Column, linear_column, shape_column

if TYPE_CHECKING:
    from weakstep.failures.candidates import Candidate
    from weakstep.failures.links import Link
    from weakstep.failures.model import FailureModel
    from weakstep.runlog.model import RunTable


def report_models(
    family: str,
    candidates: tuple[Candidate, ...],
    links: tuple[Link, ...],
    first: str,
    strata: np.ndarray,
    runs: RunTable,
    failed: np.ndarray,
    seed: int,
) -> list[FailureModel]:
    """
    Fit the models reported for one family.

    Parameters
    ----------
    family : str
    candidates : tuple of Candidate
    links : tuple of Link
        One per candidate.
    first : str
        Column that comes first in the ranking.
    strata : array of int, shape (n_runs,)
    runs : RunTable
    failed : array of int, shape (n_runs,)
    seed : int

    Returns
    -------
    list of FailureModel
        One that is linear in the parameters; a second one with them in their shapes, where those
        differ. Claimed factors if there are any, else the first of the ranking, for reference.
    """
    claimed = sorted(
        (link for link in links if link.claimed is not None), key=lambda link: link.claimed or 0
    )
    chosen = claimed or [link for link in links if candidates[link.factor].name == first]
    named = ", ".join(candidates[link.factor].name for link in chosen)
    why = (
        f"Holds the factors linked to failures: {named}."
        if claimed
        else f"For reference, not evidence: {named} comes first in the ranking but is not claimed."
    )
    background = operator_columns(strata)
    names = ["intercept", *_operator_names(strata, runs.operator)]
    linear = [linear_column(candidates[link.factor], link) for link in chosen]
    shaped = [shape_column(candidates[link.factor], link) for link in chosen]

    def fit(columns: list[Column], how: str) -> FailureModel:
        return fit_reported(
            family, columns, background, names, failed, runs.tested, (how, why), seed
        )

    models = [fit(linear, "Linear in each parameter.")]
    if any(one is not None for one in shaped):
        columns = [one or other for one, other in zip(shaped, linear, strict=True)]
        models.append(fit(columns, "Each parameter in the shape that fits it best."))
    return models


def _operator_names(strata: np.ndarray, operator: np.ndarray) -> list[str]:
    groups, counts = np.unique(strata, return_counts=True)
    names = []
    for group in groups:
        if group == groups[np.argmax(counts)]:
            continue
        people = np.unique(operator[strata == group].astype(str))
        names.append(f"operator {' or '.join(people)}" if len(people) < 4 else "other operators")
    return names
