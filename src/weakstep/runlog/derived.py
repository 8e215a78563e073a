"""Columns computed from others, their errors, and logged values that disagree with them."""

from __future__ import annotations

from graphlib import TopologicalSorter
from typing import TYPE_CHECKING, Any

from weakstep.process.formula import evaluate, names
from weakstep.process.model import Parameter
from weakstep.runlog.work import Work

if TYPE_CHECKING:
    import numpy as np


def add_derived(work: Work) -> None:
    """
    Compute every described formula whose parts the log holds.

    A logged *reading* is a measurement: it stays, and only gaps are filled. Any other logged
    value is an intention: it gives way to the computed one. A difference is told either way.
    """
    for parameter in _in_order(work):
        if parameter.formula is None:
            continue
        values = _inputs(work, parameter.formula)
        if values is None:
            continue
        computed = _over_rows(work, parameter.formula, values)
        if work.has(parameter.name):
            computed = _merged(work, parameter, computed)
        work.typed[parameter.name] = computed
        _tell_error(work, parameter)


def _in_order(work: Work) -> list[Parameter]:
    """Return the parameters so that every formula comes after its parts."""
    described = {parameter.name: parameter for parameter in work.process.parameters}
    graph = {
        name: (names(parameter.formula) & set(described) if parameter.formula else set())
        for name, parameter in described.items()
    }
    return [described[name] for name in TopologicalSorter(graph).static_order()]


def _inputs(work: Work, formula: str) -> dict[str, Any] | None:
    """Return the values of a formula: a column, a constant in its gaps, or None without either."""
    import numpy as np

    values: dict[str, Any] = {}
    for name in names(formula):
        constant = work.process.constants.get(name)
        if work.has(name):
            column = work.typed[name].to_numpy(dtype=float)
            values[name] = (
                column if constant is None else np.where(np.isnan(column), constant, column)
            )
        elif constant is not None:
            values[name] = constant
        else:
            return None
    return values


def _over_rows(work: Work, formula: str, values: dict[str, Any]) -> np.ndarray:
    import numpy as np

    return np.array(np.broadcast_to(evaluate(formula, values), (len(work.typed),)), dtype=float)


def _merged(work: Work, parameter: Parameter, computed: np.ndarray) -> np.ndarray:
    """Join logged and computed values, telling where they disagree.

    An implausible computed value never takes the place of a logged one.
    """
    import numpy as np

    logged = work.typed[parameter.name].to_numpy(dtype=float)
    with np.errstate(all="ignore"):
        apart = np.abs(logged - computed) > parameter.agree_within * np.abs(computed)
    keeps = np.full(len(computed), parameter.role == "reading")
    if parameter.lower is not None:
        keeps |= computed < parameter.lower
    if parameter.upper is not None:
        keeps |= computed > parameter.upper
    for row, was, now, stays in zip(
        work.typed.index[apart], logged[apart], computed[apart], keeps[apart], strict=True
    ):
        used = f"the logged {was:.4g} is used" if stays else f"the computed {now:.4g} is used"
        work.problem(
            int(row),
            parameter.name,
            "disagrees_with_computed",
            "question",
            f"The logged {parameter.label} is {was:.4g}; its parts give {now:.4g}; {used}.",
            f"Check the cell and its parts ({', '.join(sorted(names(parameter.formula or '0')))}).",
        )
    preferred = np.where(keeps, logged, computed)
    return np.where(np.isnan(preferred), np.where(keeps, computed, logged), preferred)


def _tell_error(work: Work, parameter: Parameter) -> None:
    """Tell rows whose computed value has a large relative error."""
    if parameter.formula_error is None or parameter.tell_error_above is None:
        return
    values = _inputs(work, parameter.formula_error)
    if values is None:
        return
    errors = _over_rows(work, parameter.formula_error, values)
    large = errors > parameter.tell_error_above
    for row, error in zip(work.typed.index[large], errors[large], strict=True):
        work.problem(
            int(row),
            parameter.name,
            "uncertain_value",
            "question",
            f"The {parameter.label} can be off by {100 * error:.0f} %, because so little was "
            "measured so coarsely.",
            parameter.tightening or "Measure its parts more finely.",
        )
