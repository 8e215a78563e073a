"""Plausible ranges through a pandera schema; rated limits and rules of the description."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from weakstep.process.formula import evaluate, names
from weakstep.process.model import Parameter, Process, RatedLimit, Rule
from weakstep.process.words import range_words
from weakstep.runlog.units import convert, same_kind, units_like
from weakstep.runlog.work import Work

if TYPE_CHECKING:
    import numpy as np


_FAR_DAYS = 300
_DATES_PER_LONE = 20
_ENOUGH_TO_ASK_UNIT = 3


def schema_of(process: Process, columns: set[str]) -> Any:
    """
    Build the pandera schema of the number columns among *columns*.

    Returns
    -------
    pandera.pandas.DataFrameSchema
        Every column is float and may be missing; each bound of the plausible range is a check.
    """
    import pandera.pandas as pa

    schema_columns = {}
    for parameter in process.parameters:
        if parameter.kind != "number" or parameter.name not in columns:
            continue
        checks = []
        if parameter.lower is not None:
            checks.append(pa.Check.ge(parameter.lower))
        if parameter.upper is not None:
            checks.append(pa.Check.le(parameter.upper))
        schema_columns[parameter.name] = pa.Column(float, checks, nullable=True)
    return pa.DataFrameSchema(schema_columns)


def check_ranges(work: Work, *, only_computed: bool = False) -> None:
    """Count cells outside their plausible range as missing, and tell each."""
    computed = {p.name for p in work.process.parameters if p.formula is not None}
    found = {str(column) for column in work.typed.columns}
    columns = sorted(found & computed if only_computed else found)
    suspects = [name for name in columns if _has_outside(work, name)]
    if suspects:
        _tell_outside_of(work, suspects)


def _has_outside(work: Work, name: str) -> bool:
    """Whether a column has any cell outside: most have none, and a schema is slow to ask."""
    import numpy as np

    parameter = work.process.parameter(name) if work.process.has(name) else None
    if parameter is None or parameter.kind != "number":
        return False
    values = work.typed[name].to_numpy(dtype=float)
    lower = -np.inf if parameter.lower is None else parameter.lower
    upper = np.inf if parameter.upper is None else parameter.upper
    with np.errstate(invalid="ignore"):
        return bool(((values < lower) | (values > upper)).any())


def _tell_outside_of(work: Work, columns: list[str]) -> None:
    """Count the cells that the schema finds outside as missing, and tell each."""
    import pandera.errors

    schema = schema_of(work.process, set(columns))
    try:
        schema.validate(work.typed[columns], lazy=True)
    except pandera.errors.SchemaErrors as errors:
        cases = errors.failure_cases.dropna(subset=["index"])
        outside = {(str(c), int(i)) for c, i in zip(cases["column"], cases["index"], strict=True)}
        for column in sorted({name for name, _ in outside}):
            rows = sorted(row for name, row in outside if name == column)
            _tell_column_outside(work, work.process.parameter(column), rows)
            work.typed.loc[rows, column] = float("nan")


def _tell_column_outside(work: Work, parameter: Parameter, rows: list[int]) -> None:
    """Tell each cell outside; where all of a file would fit in another unit, ask for it."""
    values = dict(zip(rows, work.typed.loc[rows, parameter.name].tolist(), strict=True))
    by_file: dict[str, list[int]] = {}
    for row in rows:
        by_file.setdefault(work.place(row)[0], []).append(row)
    for several in by_file.values():
        unit = _unit_that_fits(parameter, [values[row] for row in several])
        for row in several:
            _tell_outside(work, parameter, row, values[row], unit)


def _unit_that_fits(parameter: Parameter, values: list[float]) -> str | None:
    """Return a unit in which all of at least three values would be plausible."""
    lower = -float("inf") if parameter.lower is None else parameter.lower
    upper = float("inf") if parameter.upper is None else parameter.upper
    for unit in units_like(parameter.unit) if len(values) >= _ENOUGH_TO_ASK_UNIT else []:
        if all(lower <= convert(value, unit, parameter.unit) <= upper for value in values):
            return unit
    return None


def _tell_outside(
    work: Work, parameter: Parameter, row: int, value: float, unit: str | None
) -> None:
    text = work.text(row, parameter.name)
    read_as = "" if text is not None and text == f"{value:.6g}" else f" (read as {value:.6g})"
    action = "Correct the cell; or, if the value is real, widen the range in the description."
    if value == 0:
        action = "If 0 stands for 'not measured', leave the cell empty."
    elif unit is not None:
        action = f"Is it in {unit}? Then write the unit in the cell or in the header."
    if value < 0 and same_kind(parameter.unit, "Pa"):
        action = (
            "A negative pressure is a gauge reading: log the absolute pressure, which is the air "
            "pressure (about 101 kPa at sea level) less the gauge reading."
        )
    plausible = range_words(parameter.lower, parameter.upper, parameter.unit)
    work.problem(
        row,
        parameter.name,
        "out_of_range",
        "cell_missing",
        f"Outside the plausible range {plausible}{read_as}; the cell counts as missing.",
        action,
        found=text or f"{value:.6g}",
    )


def check_dates(work: Work) -> None:
    """
    Count lone dates far from all others as missing: a year mistyped would turn the order around.

    Lone are at most a twentieth of the dated rows, before or after a gap of 300 days.
    """
    import numpy as np

    if not work.has("started_at"):
        return
    dated = work.typed["started_at"].dropna().sort_values(kind="stable")
    moments = dated.to_numpy(dtype="datetime64[s]")
    few = len(dated) // _DATES_PER_LONE
    if few == 0:
        return
    wide = np.flatnonzero(np.diff(moments) > np.timedelta64(_FAR_DAYS, "D")) + 1
    first = max((int(cut) for cut in wide if cut <= few), default=0)
    last = min((int(cut) for cut in wide if len(dated) - cut <= few), default=len(dated))
    span = f"{moments[first]} to {moments[last - 1]}".replace("T", " ")
    lone = [*dated.index[:first], *dated.index[last:]]
    for row in lone:
        work.problem(
            int(row),
            "started_at",
            "far_date",
            "cell_missing",
            f"The date is far from all others, which run from {span}; the cell counts as missing.",
            "Look at the year; the row keeps its place in the file.",
        )
    work.typed.loc[lone, "started_at"] = np.datetime64("NaT")


def check_limits(work: Work) -> None:
    """Tell every row beyond a rated limit, with its caution."""
    for limit in work.process.rated_limits:
        if not work.has(limit.parameter):
            continue
        applies = _applies(work, limit)
        values = work.typed[limit.parameter].to_numpy(dtype=float)
        for bound, above in ((limit.upper, True), (limit.lower, False)):
            bounds = _bounds(work, bound)
            if bounds is None:
                continue
            beyond = applies & ((values > bounds) if above else (values < bounds))
            for row, edge in zip(work.typed.index[beyond], bounds[beyond], strict=True):
                _tell_limit(work, limit, int(row), float(edge), above)


def _applies(work: Work, limit: RatedLimit) -> np.ndarray:
    import numpy as np
    import pandas as pd

    applies = np.ones(len(work.typed), dtype=bool)
    for column, value in limit.where.items():
        if not work.has(column):
            return np.zeros(len(work.typed), dtype=bool)
        wanted = value.casefold()
        codes, distinct = pd.factorize(work.typed[column].to_numpy(dtype=object))
        applies &= np.array([str(text).casefold() == wanted for text in distinct], bool)[codes]
    return applies


def _bounds(work: Work, bound: float | str | None) -> np.ndarray | None:
    import numpy as np

    if bound is None:
        return None
    if isinstance(bound, str):
        return work.typed[bound].to_numpy(dtype=float) if work.has(bound) else None
    return np.full(len(work.typed), bound)


def _tell_limit(work: Work, limit: RatedLimit, row: int, edge: float, above: bool) -> None:
    parameter = work.process.parameter(limit.parameter)
    caution = work.process.caution(limit.caution).text if limit.caution else ""
    edge_words = f"{edge:g} {parameter.unit}".strip()
    work.problem(
        row,
        parameter.name,
        "beyond_rated_limit",
        "question",
        f"The {parameter.label} is {'above' if above else 'below'} {edge_words}: {limit.because}.",
        f"Stay within the limit, or correct the cell. {caution}".strip(),
    )


def check_rules(work: Work) -> None:
    """Tell every row that breaks a sense check; surely wrong cells count as missing."""
    for rule in work.process.rules:
        broken = _broken(work, rule)
        if broken is None:
            continue
        rows = work.typed.index[broken]
        columns = [name for name in sorted(names(rule.left)) if work.has(name)]
        columns += [name for name in sorted(names(rule.right)) if work.has(name)]
        message = rule.message
        if rule.sure:
            message += f" The cells count as missing: {', '.join(columns)}."
        # A cell that counts as missing is told where it stands; a question is asked once a row.
        told = columns if rule.sure else columns[:1]
        for row, column in ((row, column) for row in rows for column in told):
            work.problem(
                int(row),
                column,
                "rule_broken",
                "cell_missing" if rule.sure else "question",
                message,
                rule.action,
            )
        if rule.sure:
            work.typed.loc[rows, columns] = float("nan")


def _broken(work: Work, rule: Rule) -> np.ndarray | None:
    """Return the rows in which the rule does not hold; None when it cannot be checked."""
    import numpy as np

    if not any(work.has(name) for name in names(rule.left) | names(rule.right)):
        return None
    values: dict[str, Any] = {}
    for name in names(rule.left) | names(rule.right):
        if work.has(name):
            values[name] = work.typed[name].to_numpy(dtype=float)
        elif name in work.process.constants:
            values[name] = work.process.constants[name]
        else:
            return None
    left, right = np.broadcast_arrays(
        evaluate(rule.left, values), evaluate(rule.right, values), np.empty(len(work.typed))
    )[:2]
    known = ~(np.isnan(left) | np.isnan(right))
    holds = {
        "<": left < right,
        "<=": left <= right,
        ">": left > right,
        ">=": left >= right,
    }[rule.relation]
    broken: np.ndarray = known & ~holds
    return broken
