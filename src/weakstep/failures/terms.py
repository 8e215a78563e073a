"""A factor as a column of a logistic model, in a unit that means something."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.words import number_words
from weakstep.process.words import printed_unit

if TYPE_CHECKING:
    from weakstep.failures.candidates import Candidate
    from weakstep.failures.links import Link
    from weakstep.failures.shapes import Shape
    from weakstep.process.model import Parameter


@dataclass(frozen=True, eq=False)
class Column:
    """
    One column of a reported model, in a unit that means something.

    Attributes
    ----------
    name : str
    values : array, shape (n_runs,)
        NaN where not logged.
    step : float
        Difference in `values` that the odds ratio is for.
    per : str
        The same in words.
    """

    name: str
    values: np.ndarray
    step: float
    per: str


def linear_column(candidate: Candidate, link: Link) -> Column:
    """Return the parameter itself (its natural logarithm for log-scale parameters)."""
    parameter = candidate.parameter
    if candidate.kind == "category":
        return _level_column(candidate, candidate.shapes[link.shape])
    if candidate.kind == "yes_no":
        return Column(parameter.name, candidate.values, 1.0, per_phrase(parameter, log=False))
    if uses_log(parameter, candidate.values):
        per = per_phrase(parameter, log=True)
        step = float(np.log(parameter.per))
        return Column(f"log({parameter.name})", np.log(candidate.values), step, per)
    per = per_phrase(parameter, log=False)
    return Column(parameter.name, candidate.values, parameter.per, per)


def _level_column(candidate: Candidate, shape: Shape) -> Column:
    level = candidate.levels[int(shape.knot)]
    values = np.where(candidate.logged, candidate.values == shape.knot, np.nan)
    return Column(f"{candidate.name} = {level}", values, 1.0, f"{level} against the rest")


def shape_column(candidate: Candidate, link: Link) -> Column | None:
    """
    Return the factor in its best shape, or None when that is the linear column already.

    Hinges count from their knot in the parameter's unit, or in natural logarithms where the shape
    was chosen on logarithms; values beyond the 2 and 98 % quantiles count as these. The odds ratio
    of a squared distance is per standard deviation of that square.
    """
    shape, parameter = candidate.shapes[link.shape], candidate.parameter
    if candidate.kind != "number" or shape.scale is None:
        return None
    if shape.kind == "line" and shape.scale.log == uses_log(parameter, candidate.values):
        return None
    values = shape.evaluate(candidate.values) * shape.sd + shape.mean
    knot = number_words(shape.scale.undo(shape.knot), parameter)
    name = f"log({candidate.name})" if shape.scale.log else candidate.name
    if shape.kind == "away":
        per = "per standard deviation of the square"
        return Column(f"{name} away from {knot}, squared", values, shape.sd, per)
    where = "" if shape.kind == "line" else f" {shape.kind} {knot}"
    if shape.scale.log:
        return Column(name + where, values, math.log(2.0), "per doubling")
    step = 1.0 if parameter.scale == "log" else parameter.per
    return Column(
        name + where, values, step, f"per {step:g} {printed_unit(parameter.unit)}".rstrip()
    )


def uses_log(parameter: Parameter, values: np.ndarray) -> bool:
    """Whether differences by a factor are what the description means, and all values allow it."""
    known = values[~np.isnan(values)]
    return parameter.scale == "log" and parameter.per > 1.0 and bool((known > 0).all())


def per_phrase(parameter: Parameter, *, log: bool) -> str:
    """
    Return what an odds ratio is per, as a phrase.

    Examples
    --------
    >>> from weakstep.process.model import Parameter
    >>> delay = Parameter("delay_s", "delay", "contact", "reading", "number", unit="s", per=10)
    >>> per_phrase(delay, log=False)
    'per 10 s'
    """
    if parameter.kind == "yes_no":
        return "yes against no"
    if log:
        return "per doubling" if parameter.per == 2 else f"per factor of {parameter.per:g}"
    return f"per {parameter.per:g} {printed_unit(parameter.unit)}".rstrip()
