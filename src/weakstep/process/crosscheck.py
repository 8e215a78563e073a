"""Whether the parts of a description fit together: steps, families, formulas, limits, words."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterator

from weakstep.errors import ProcessError
from weakstep.process.formula import names
from weakstep.process.model import Process
from weakstep.process.words import plain


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
    if process.modes and not any(mode.verdict == "failed" for mode in process.modes):
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
