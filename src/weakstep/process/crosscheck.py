"""Whether the parts of a description fit together: steps, families, formulas, limits, words."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterator
from graphlib import CycleError, TopologicalSorter

from weakstep.errors import ProcessError
from weakstep.process.formula import names
from weakstep.process.model import Process
from weakstep.process.words import plain

_FIXED = {
    "started_at": ("time",),
    "chip_id": ("text", "category"),
    "run_id": ("text", "category"),
    "operator": ("text", "category"),
    "outcome": ("category", "yes_no", "text"),
    "chips_made": ("number",),
    "chips_failed": ("number",),
}


def check_references(process: Process, file: str) -> None:
    """
    Check every name that one part of the description uses of another.

    Raises
    ------
    ProcessError
        The first name that leads nowhere, with its key and the nearest known name.
    """
    if not process.parameters:
        _fail(file, "parameters", "is missing; describe at least one column.")
    columns = {parameter.name for parameter in process.parameters}
    steps = {step.name for step in process.steps}
    families = {family.name for family in process.families}
    cautions = {caution.name for caution in process.cautions}
    for key, name, known, kind, may_be_empty in (
        *_of_parameters(process, steps, cautions),
        *_of_modes(process, steps, families),
        *_of_limits(process, columns, cautions),
    ):
        if name == "" and may_be_empty:
            continue
        if name not in known:
            _unknown(file, key, name, known, kind)
    _check_formulas(process, file, columns)
    _check_circles(process, file)
    _check_kinds(process, file)
    _check_modes(process, file)
    _check_aliases(process, file)


_Reference = tuple[str, str, Collection[str], str, bool]


def _of_parameters(
    process: Process, steps: Collection[str], cautions: Collection[str]
) -> Iterator[_Reference]:
    for parameter in process.parameters:
        key = f"parameters.{parameter.name}"
        free = parameter.role in ("identity", "outcome")
        yield f"{key}.step", parameter.step, steps, "step", free
        for caution in parameter.cautions:
            yield f"{key}.cautions", caution, cautions, "caution", False


def _of_modes(
    process: Process, steps: Collection[str], families: Collection[str]
) -> Iterator[_Reference]:
    for mode in process.modes:
        key = f"modes.{mode.name}"
        if mode.verdict == "failed" or mode.family:
            yield f"{key}.family", mode.family, families, "family", False
        for step in mode.likely_steps:
            yield f"{key}.likely_steps", step, steps, "step", False


def _of_limits(
    process: Process, columns: Collection[str], cautions: Collection[str]
) -> Iterator[_Reference]:
    for limit in process.rated_limits:
        key = f"rated_limits ({limit.parameter})"
        yield f"{key}.parameter", limit.parameter, columns, "parameter", False
        yield f"{key}.caution", limit.caution, cautions, "caution", True
        for side, bound in (("upper", limit.upper), ("lower", limit.lower)):
            if isinstance(bound, str):
                yield f"{key}.{side}", bound, columns, "parameter", False
        for column in limit.where:
            yield f"{key}.where", column, columns, "parameter", False
    for pair in process.interactions:
        for name in pair:
            yield "interactions", name, columns, "parameter", False


def _check_formulas(process: Process, file: str, columns: Collection[str]) -> None:
    known = {*columns, *process.constants}
    for parameter in process.parameters:
        for part in ("formula", "formula_error"):
            formula = getattr(parameter, part)
            if formula is None:
                continue
            key = f"parameters.{parameter.name}.{part}"
            for name in sorted(names(formula, f"{file}: {key}")):
                if name not in known:
                    _unknown(file, key, name, known, "column or constant")
                if name == parameter.name and part == "formula":
                    _fail(file, key, "the formula of a column cannot use the column itself.")
    for rule in process.rules:
        for part, formula in (("left", rule.left), ("right", rule.right)):
            key = f"rules.{part}"
            for name in sorted(names(formula, f"{file}: {key}")):
                if name not in known:
                    _unknown(file, key, name, known, "column or constant")


def _check_kinds(process: Process, file: str) -> None:
    """Refuse words where numbers are computed, and columns of fixed meaning of another kind."""
    kinds = {parameter.name: parameter.kind for parameter in process.parameters}
    for name, allowed in _FIXED.items():
        if name in kinds and kinds[name] not in allowed:
            _fail(
                file,
                f"parameters.{name}.kind",
                f"found {kinds[name]!r}, but this column must be {' or '.join(allowed)}.",
            )
    for key, name in _computed_with(process):
        if kinds.get(name, "number") not in ("number", "yes_no"):
            _fail(file, key, f"{name!r} is a column of kind {kinds[name]!r}, expected a number.")


def _computed_with(process: Process) -> Iterator[tuple[str, str]]:
    """Yield every key and the columns it computes or compares with."""
    for parameter in process.parameters:
        for part in ("formula", "formula_error"):
            formula = getattr(parameter, part)
            if formula is not None:
                key = f"parameters.{parameter.name}.{part}"
                yield from ((key, name) for name in sorted(names(formula)))
                yield key, parameter.name
    for rule in process.rules:
        yield from (("rules", name) for name in sorted(names(rule.left) | names(rule.right)))
    for limit in process.rated_limits:
        key = f"rated_limits ({limit.parameter})"
        yield key, limit.parameter
        for bound in (limit.upper, limit.lower):
            if isinstance(bound, str):
                yield key, bound


def _check_circles(process: Process, file: str) -> None:
    """Refuse formulas that need each other."""
    graph = {
        parameter.name: names(parameter.formula)
        for parameter in process.parameters
        if parameter.formula is not None
    }
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        circle = " -> ".join(error.args[1])
        _fail(file, "parameters", f"the formulas need each other in a circle: {circle}.")


def _check_modes(process: Process, file: str) -> None:
    seen: dict[str, str] = {}
    for mode in process.modes:
        for word in {plain(written) for written in (mode.name, *mode.aliases)}:
            if word in seen:
                _fail(
                    file,
                    f"modes.{mode.name}.aliases",
                    f"{word!r} already stands for {seen[word]!r}; a word can mean one outcome.",
                )
            seen[word] = mode.name
    described = [mode for mode in process.modes if mode.verdict != "untested"]
    if described and not any(mode.verdict == "failed" for mode in described):
        _fail(file, "modes", 'no mode has verdict = "failed"; describe at least one.')


def _check_aliases(process: Process, file: str) -> None:
    owners: dict[str, str] = {}
    for parameter in process.parameters:
        for word in {plain(w) for w in (parameter.name, *parameter.aliases)}:
            if word in owners:
                _fail(
                    file,
                    f"parameters.{parameter.name}.aliases",
                    f"{word!r} already names the column {owners[word]!r}; "
                    "a header word can mean one column.",
                )
            owners[word] = parameter.name


def _unknown(file: str, key: str, name: str, known: Collection[str], kind: str) -> None:
    near = difflib.get_close_matches(name, sorted(known), n=1, cutoff=0.5)
    hint = f"did you mean {near[0]!r}?" if near else "known are " + ", ".join(sorted(known)) + "."
    _fail(file, key, f"found {name!r}, which is no described {kind}; {hint}")


def _fail(file: str, key: str, sentence: str) -> None:
    msg = f"{file}: {key}: {sentence}"
    raise ProcessError(msg)
