"""Tables of a description -> the frozen parts of a Process."""

from __future__ import annotations

import re
from dataclasses import fields
from typing import Any, cast

from weakstep.process.entries import Entries
from weakstep.process.model import (
    Caution,
    Family,
    Kind,
    Mode,
    Parameter,
    Process,
    RatedLimit,
    Role,
    Rule,
    Scale,
    Step,
    Verdict,
    WorseWhen,
)

ROLES = ("setting", "reading", "counter", "ambient", "identity", "outcome")
KINDS = ("number", "category", "yes_no", "time", "text")
VERDICTS = ("good", "failed", "untested")
RELATIONS = ("<", "<=", ">", ">=")
TOP = (
    "name",
    "title",
    "item",
    "items",
    "interactions",
    "constants",
    "steps",
    "parameters",
    "families",
    "modes",
    "rated_limits",
    "rules",
    "cautions",
)
_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")
_NOT_TESTED = Mode("not_tested", "not tested", "untested")


def build_process(data: dict[str, Any], file: str, source: str, sha256: str) -> Process:
    """
    Build the Process that *data* describes; cross references are checked elsewhere.

    Raises
    ------
    ProcessError
        An entry is missing, unknown or of the wrong kind; the message names *file* and key.
    """
    top = Entries(file, "", data)
    top.only(TOP)
    item = top.text("item", "piece")
    modes = tuple(_mode(name, table) for name, table in _named(top, "modes"))
    if not any(mode.verdict == "untested" for mode in modes):
        modes = (*modes, _NOT_TESTED)
    return Process(
        name=top.text("name"),
        title=top.text("title"),
        item=item,
        items=top.text("items", item + "s"),
        steps=tuple(_step(name, table) for name, table in _named(top, "steps")),
        parameters=tuple(_parameter(name, table) for name, table in _named(top, "parameters")),
        families=tuple(_family(name, table) for name, table in _named(top, "families")),
        modes=modes,
        constants=_constants(top.table("constants")),
        rated_limits=tuple(_limit(table) for _, table in _named(top, "rated_limits")),
        rules=tuple(_rule(table) for _, table in _named(top, "rules")),
        cautions=tuple(_caution(name, table) for name, table in _named(top, "cautions")),
        interactions=top.pairs("interactions"),
        source=source,
        sha256=sha256,
    )


def _named(top: Entries, section: str) -> list[tuple[str, Entries]]:
    """Return the tables of a section with their names, which must work in formulas."""
    tables = top.table(section).tables()
    for name, table in tables.items():
        if not _NAME.fullmatch(name):
            table.fail("", "a name may hold letters, digits and _ only, and starts with a letter.")
    return list(tables.items())


def _constants(table: Entries) -> dict[str, float]:
    constants = {}
    for name in table.names():
        value = table.number(name)
        if value is not None:
            constants[name] = value
    return constants


def _step(name: str, table: Entries) -> Step:
    table.only(["label"])
    return Step(name, table.text("label", name))


def _family(name: str, table: Entries) -> Family:
    table.only(["label"])
    return Family(name, table.text("label", name))


def _parameter(name: str, table: Entries) -> Parameter:
    table.only(field.name for field in fields(Parameter) if field.name != "name")
    lower, upper = table.number("lower"), table.number("upper")
    if lower is not None and upper is not None and lower >= upper:
        table.refuse("lower", lower, f"a number below upper, which is {upper:g}")
    tolerance = _tolerance(table)
    return Parameter(
        name=name,
        label=table.text("label", name.replace("_", " ")),
        step=table.text("step", ""),
        role=cast("Role", table.choice("role", ROLES)),
        kind=cast("Kind", table.choice("kind", KINDS, "number")),
        unit=table.text("unit", ""),
        lower=lower,
        upper=upper,
        scale=cast("Scale", table.choice("scale", ("linear", "log"), "linear")),
        decimals=table.count("decimals", 1),
        per=table.positive("per", 1.0),
        aliases=table.texts("aliases"),
        formula=table.text("formula") if table.has("formula") else None,
        formula_error=table.text("formula_error") if table.has("formula_error") else None,
        tell_error_above=table.number("tell_error_above"),
        agree_within=table.positive("agree_within", 0.05),
        interchangeable=table.boolean("interchangeable"),
        check_first=table.text("check_first", ""),
        tightening=table.text("tightening", ""),
        cautions=table.texts("cautions"),
        spellings=_spellings(table.table("spellings")),
        tolerance_low=tolerance[0],
        tolerance_high=tolerance[1],
        worse_when=_worse_when(table),
    )


def _worse_when(table: Entries) -> WorseWhen:
    """When failures are expected to be more frequent; only numbers and yes/no have ends."""
    # Empty: a lab takes back what the description that its own extends expects.
    if not table.has("worse_when") or table.text("worse_when") == "":
        return ""
    kind = table.choice("kind", KINDS, "number")
    if kind not in ("number", "yes_no") or table.choice("role", ROLES) in ("identity", "outcome"):
        table.fail(
            "worse_when", "only a factor of kind number or yes_no can be worse when high or low."
        )
    ends = ("high", "low", "both_ends") if kind == "number" else ("high", "low")
    return cast("WorseWhen", table.choice("worse_when", ends))


def _tolerance(table: Entries) -> tuple[float | None, float | None]:
    """Limits of the tolerance of a number, both of which may be missing."""
    low, high = table.number("tolerance_low"), table.number("tolerance_high")
    if low is not None and high is not None and low >= high:
        table.refuse("tolerance_low", low, f"a number below tolerance_high, which is {high:g}")
    for name in ("tolerance_low", "tolerance_high"):
        if table.has(name) and table.choice("kind", KINDS, "number") != "number":
            table.fail(name, 'only a parameter of kind "number" can have a tolerance.')
        if table.has(name) and table.choice("role", ROLES) == "counter":
            table.fail(name, "a counter wears and is set back, so it can have no tolerance.")
    return low, high


def _spellings(table: Entries) -> dict[str, tuple[str, ...]]:
    return {name: table.texts(name) for name in table.names()}


def _mode(name: str, table: Entries) -> Mode:
    table.only(["label", "verdict", "family", "aliases", "likely_steps"])
    steps = table.table("likely_steps")
    strengths = {}
    for step in steps.names():
        strength = steps.count(step, 0)
        if not 1 <= strength <= 3:
            steps.refuse(step, strength, "1 (weak), 2 or 3 (strong)")
        strengths[step] = strength
    return Mode(
        name=name,
        label=table.text("label", name.replace("_", " ")),
        verdict=cast("Verdict", table.choice("verdict", VERDICTS)),
        family=table.text("family", ""),
        aliases=table.texts("aliases"),
        likely_steps=strengths,
    )


def _limit(table: Entries) -> RatedLimit:
    table.only(["parameter", "because", "caution", "upper", "lower", "where"])
    upper, lower = table.number_or_name("upper"), table.number_or_name("lower")
    if upper is None and lower is None:
        table.fail("upper", "is missing, expected a number or the name of a column.")
    where = table.table("where")
    return RatedLimit(
        parameter=table.text("parameter"),
        because=table.text("because"),
        caution=table.text("caution", ""),
        upper=upper,
        lower=lower,
        where={name: where.text(name) for name in where.names()},
    )


def _rule(table: Entries) -> Rule:
    table.only(["left", "relation", "right", "message", "action", "sure"])
    return Rule(
        left=table.text("left"),
        relation=cast("Any", table.choice("relation", RELATIONS)),
        right=table.text("right"),
        message=table.text("message"),
        action=table.text("action"),
        sure=table.boolean("sure"),
    )


def _caution(name: str, table: Entries) -> Caution:
    table.only(["topic", "text", "always"])
    return Caution(name, table.text("topic"), table.text("text"), table.boolean("always"))
