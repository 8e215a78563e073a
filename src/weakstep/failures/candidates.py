"""Which columns of a log can be ranked, and their shapes as one matrix."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from weakstep.failures.expectations import expecting
from weakstep.failures.scales import choose_scale
from weakstep.failures.shapes import (
    FEWEST_RUNS,
    Shape,
    bends,
    evaluate_all,
    level_shapes,
    number_shapes,
    yes_no_shapes,
)
from weakstep.failures.words import in_sentence, percent

if TYPE_CHECKING:
    from weakstep.process.model import Parameter, Process
    from weakstep.runlog.model import RunTable

MOST_MISSING = 0.6
MOST_LEVELS = 12
FILL_STRENGTH = 2.0
SEVERAL = "several"

CandidateKind = Literal["number", "yes_no", "category"]


@dataclass(frozen=True, eq=False)
class Candidate:
    """
    A column that may be linked to failures.

    Attributes
    ----------
    parameter : Parameter
    kind : CandidateKind
    values : array, shape (n_runs,)
        In the parameter's unit; share of yes; or the code of a category's level. NaN where not
        logged.
    levels : tuple of str
        Of a category, by code.
    shapes : tuple of Shape
        The first `told` ones can be said in a phrase; all serve the screen and the shares.
    told : int
    columns : array, shape (n_runs, n_shapes)
        The shapes, standardised; where the parameter was not logged, the mean of the runs of the
        same operator, so that such a run speaks neither for nor against.
    parts : frozenset of str
        Columns it is computed from.
    """

    parameter: Parameter
    kind: CandidateKind
    values: np.ndarray
    levels: tuple[str, ...]
    shapes: tuple[Shape, ...]
    told: int
    columns: np.ndarray
    parts: frozenset[str]

    @property
    def name(self) -> str:
        """Column name."""
        return self.parameter.name

    @property
    def positive(self) -> np.ndarray:
        """How probable a positive coefficient of each shape is beforehand, shape (n_shapes,)."""
        return np.array([shape.positive for shape in self.shapes])

    @property
    def weights(self) -> np.ndarray:
        """How probable each shape is beforehand, up to a factor, shape (n_shapes,)."""
        return np.array([shape.weight for shape in self.shapes])

    @property
    def logged(self) -> np.ndarray:
        """Whether each run logged it."""
        return np.asarray(~np.isnan(self.values))

    @property
    def missing(self) -> float:
        """Share of runs in which it was not logged."""
        return float(np.isnan(self.values).mean())


@dataclass(frozen=True, eq=False)
class ShapeTable:
    """
    The shapes of several candidates side by side.

    Attributes
    ----------
    columns : array, shape (n_runs, n_shapes)
    owner : array of int, shape (n_shapes,)
        Place of the candidate of each shape; ascending.
    positive, weights : array, shape (n_shapes,)
        As the candidates carry them.
    told : array of bool, shape (n_shapes,)
        Which shapes can be said in a phrase.
    """

    columns: np.ndarray
    owner: np.ndarray
    positive: np.ndarray
    weights: np.ndarray
    told: np.ndarray


def side_by_side(candidates: tuple[Candidate, ...]) -> ShapeTable:
    """Return the shapes of all candidates, of which there is at least one, as one table."""
    return ShapeTable(
        np.column_stack([one.columns for one in candidates]),
        np.repeat(np.arange(len(candidates)), [len(one.shapes) for one in candidates]),
        np.concatenate([one.positive for one in candidates]),
        np.concatenate([one.weights for one in candidates]),
        np.concatenate([np.arange(len(one.shapes)) < one.told for one in candidates]),
    )


def gather(
    process: Process, runs: RunTable, strata: np.ndarray
) -> tuple[tuple[Candidate, ...], tuple[str, ...]]:
    """
    Find the columns that can be ranked, and say which cannot.

    Parameters
    ----------
    process : Process
    runs : RunTable
        Only runs with tested chips.
    strata : array of int, shape (n_runs,)
        Who ran it, small groups pooled.

    Returns
    -------
    tuple of Candidate, tuple of str
        In the order of the description; and a sentence for each reason why columns were left out.
    """
    found: list[Candidate] = []
    unvaried: list[str] = []
    unlogged: list[str] = []
    for parameter in process.parameters:
        values, levels, kind = _values_of(parameter, runs)
        if values is None:
            continue
        missing = float(np.isnan(values).mean())
        if missing == 1.0:
            continue
        if missing > MOST_MISSING:
            unlogged.append(in_sentence(parameter.label))
            continue
        shapes, told = _shapes_of(parameter, values[~np.isnan(values)], levels, kind)
        if not shapes:
            unvaried.append(in_sentence(parameter.label))
            continue
        columns = _filled(shapes, values, strata)
        parts = _parts(parameter)
        found.append(Candidate(parameter, kind, values, levels, shapes, told, columns, parts))
    return tuple(found), _left_out(unvaried, unlogged)


def _left_out(unvaried: list[str], unlogged: list[str]) -> tuple[str, ...]:
    notes: list[str] = []
    if unvaried:
        notes.append(
            f"Not ranked, because too few runs differ from the usual value: {', '.join(unvaried)}."
        )
    if unlogged:
        notes.append(
            f"Not ranked, because more than {percent(MOST_MISSING)} of the runs did not log it: "
            f"{', '.join(unlogged)}."
        )
    return tuple(notes)


def _values_of(
    parameter: Parameter, runs: RunTable
) -> tuple[np.ndarray | None, tuple[str, ...], CandidateKind]:
    name = parameter.name
    if parameter.is_factor and name in runs.numbers.columns:
        kind: CandidateKind = "yes_no" if parameter.kind == "yes_no" else "number"
        return runs.numbers[name].to_numpy(dtype=float), (), kind
    is_group = parameter.role != "outcome" and name not in ("operator", "run_id", "chip_id")
    if is_group and name in runs.categories.columns:
        words = runs.categories[name].astype(str).to_numpy()
        names, counts = np.unique(words[(words != "") & (words != SEVERAL)], return_counts=True)
        order = np.argsort(-counts, kind="stable")[:MOST_LEVELS]
        levels = tuple(str(names[index]) for index in sorted(order))
        codes = np.full(len(words), float(len(levels)))
        for code, level in enumerate(levels):
            codes[words == level] = code
        codes[words == ""] = np.nan
        return codes, levels, "category"
    return None, (), "number"


def _shapes_of(
    parameter: Parameter, logged: np.ndarray, levels: tuple[str, ...], kind: CandidateKind
) -> tuple[tuple[Shape, ...], int]:
    if kind == "category":
        shapes = level_shapes(logged, len(levels))
        return shapes, len(shapes)
    if kind == "yes_no":
        shapes = expecting(yes_no_shapes(logged), parameter.worse_when)
        return shapes, len(shapes)
    _, counts = np.unique(logged, return_counts=True)
    if len(logged) - counts.max() < FEWEST_RUNS:
        return (), 0
    scale = choose_scale(logged, log_declared=parameter.scale == "log")
    shapes = number_shapes(logged, scale)
    if not shapes:
        return (), 0
    return expecting((*shapes, *bends(logged, scale)), parameter.worse_when), len(shapes)


def _filled(shapes: tuple[Shape, ...], values: np.ndarray, strata: np.ndarray) -> np.ndarray:
    columns = np.ascontiguousarray(evaluate_all(shapes, values).T)
    absent = np.isnan(values)
    if not absent.any():
        return columns
    for stratum in np.unique(strata[absent]):
        here = strata == stratum
        known = here & ~absent
        # Shrunk towards 0, the mean over all runs, when the operator logged it only a few times.
        columns[here & absent] = columns[known].sum(axis=0) / (known.sum() + FILL_STRENGTH)
    return columns


def _parts(parameter: Parameter) -> frozenset[str]:
    return frozenset(re.findall(r"[A-Za-z_]\w*", parameter.formula or ""))


def pool_small_strata(operator: np.ndarray, fewest: int = 4) -> np.ndarray:
    """
    Group runs by operator, those with few runs together.

    Parameters
    ----------
    operator : array of str, shape (n_runs,)
    fewest : int, default 4
        Operators with fewer runs share one group; if that group is still smaller it joins the
        smallest other one, because a run that cannot change places tells nothing.

    Returns
    -------
    array of int, shape (n_runs,)
        Group of each run, numbered from 0.
    """
    _, codes, counts = np.unique(operator, return_inverse=True, return_counts=True)
    small = counts[codes] < fewest
    groups = np.where(small, len(counts), codes)
    large = np.flatnonzero(counts >= fewest)
    if small.any() and small.sum() < fewest and len(large):
        groups[small] = large[np.argmin(counts[large])]
    return np.unique(groups, return_inverse=True)[1]
