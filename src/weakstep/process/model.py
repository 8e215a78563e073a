"""The described process as frozen objects: what is logged, in which step, and what it can mean."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Role = Literal["setting", "reading", "counter", "ambient", "identity", "outcome"]
Kind = Literal["number", "category", "yes_no", "time", "text"]
Scale = Literal["linear", "log"]
Verdict = Literal["good", "failed", "untested"]
WorseWhen = Literal["", "high", "low", "both_ends"]


@dataclass(frozen=True)
class Step:
    """
    One step of the process, in working order.

    Attributes
    ----------
    name, label : str
        Key of the step in the description, and its name on the page.
    """

    name: str
    label: str


@dataclass(frozen=True)
class Parameter:
    """
    One column of the log.

    Attributes
    ----------
    name, label : str
        Column name (snake case with unit) and its words on the page.
    step : str
        Name of the step it belongs to; the empty string for identity columns.
    role : Role
        setting (chosen), reading (measured), counter (wear or age since service), ambient,
        identity (who and what) or outcome.
    kind : Kind
        What a cell holds: number, category, yes_no, time (a date with or without time) or text.
    unit : str
        Unit of a number as printed; empty when it has none.
    lower, upper : float or None
        Plausible range in `unit`; outside it a cell is asked about, never judged "bad practice".
    tolerance_low, tolerance_high : float or None
        What a customer, a drawing or a sheet asks for, in `unit`: one limit or both. A range that
        values are judged against; the lab's own log still sets the window.
    scale : Scale
        "log" when differences by a factor matter rather than by an amount.
    worse_when : WorseWhen
        When failures are expected to be more frequent: "high" (for yes/no: yes), "low" or
        "both_ends"; empty when nothing is expected. A link that agrees is found a little sooner.
    decimals : int
        Digits after the point worth printing.
    per : float
        Step of `unit` for which an odds ratio is reported (10 for "per 10 s");
        a factor (2 for "per doubling") when `scale` is "log".
    aliases : tuple of str
        Other header words for the same column, in any language.
    formula, formula_error : str or None
        Arithmetic over other columns and constants (see process/formula.py), and the same for
        the relative standard error of the computed value.
    tell_error_above : float or None
        Relative error above which the reader is told.
    agree_within : float
        Relative difference between a logged and a computed value that counts as agreement.
    interchangeable : bool
        True when a ratio below 1 may have been written the other way round.
    check_first : str
        What to look at first when the parameter signals.
    tightening : str
        What tightening it takes, in plain words.
    cautions : tuple of str
        Keys of the cautions that go with changing it.
    spellings : mapping of str to tuple of str
        For a category: other writings of a value, which a lab says are the same
        (operator "AK" is also "ak" and "A.K.").
    """

    name: str
    label: str
    step: str
    role: Role
    kind: Kind
    unit: str = ""
    lower: float | None = None
    upper: float | None = None
    scale: Scale = "linear"
    decimals: int = 1
    per: float = 1.0
    aliases: tuple[str, ...] = ()
    formula: str | None = None
    formula_error: str | None = None
    tell_error_above: float | None = None
    agree_within: float = 0.05
    interchangeable: bool = False
    check_first: str = ""
    tightening: str = ""
    cautions: tuple[str, ...] = ()
    spellings: Mapping[str, tuple[str, ...]] = field(default_factory=dict, hash=False)
    tolerance_low: float | None = None
    tolerance_high: float | None = None
    worse_when: WorseWhen = ""

    @property
    def is_factor(self) -> bool:
        """Whether failures may be modelled against it: all but identities of rows, and outcomes."""
        return self.role not in ("identity", "outcome") and self.kind != "text"


@dataclass(frozen=True)
class Family:
    """A group of failure modes that share causes; analysed apart from the others."""

    name: str
    label: str


@dataclass(frozen=True)
class Mode:
    """
    One outcome a chip can have.

    Attributes
    ----------
    name, label : str
        Word in the outcome column, and on the page.
    verdict : Verdict
        good, failed or untested (untested never counts as good).
    family : str
        Name of the failure family; empty unless `verdict` is "failed".
    aliases : tuple of str
        Other writings of the outcome.
    likely_steps : mapping of str to int
        Step name -> strength 1 (weak) to 3 (strong) of the trade's suspicion.
    """

    name: str
    label: str
    verdict: Verdict
    family: str = ""
    aliases: tuple[str, ...] = ()
    likely_steps: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True)
class RatedLimit:
    """
    A limit that must not be passed: of a mould, a machine, a material.

    Attributes
    ----------
    parameter : str
        The column it bounds.
    upper, lower : float, str or None
        A number in the parameter's unit, or the name of a column that carries it.
    because : str
        Whose limit it is, as a phrase ("the mould softens above it").
    caution : str
        Key of the caution to print.
    where : mapping of str to str
        The limit holds for rows whose category columns equal these values; empty for all rows.
    """

    parameter: str
    because: str
    caution: str
    upper: float | str | None = None
    lower: float | str | None = None
    where: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Rule:
    """
    Two sides that sensible rows keep: `left` `relation` `right`, with what to say if not.

    Attributes
    ----------
    left, right : str
        Formulas.
    message, action : str
    sure : bool
        True when a row that breaks the rule is surely wrong: the logged cells that the rule
        compares then count as missing; otherwise they are used and asked about.
    """

    left: str
    relation: Literal["<", "<=", ">", ">="]
    right: str
    message: str
    action: str
    sure: bool = False


@dataclass(frozen=True)
class Caution:
    """A safety caution: shown with every suggestion that touches its topic, or always."""

    name: str
    topic: str
    text: str
    always: bool = False


@dataclass(frozen=True)
class Process:
    """
    A described process; build it with `weakstep.load_process`.

    Attributes
    ----------
    name, title : str
        Key and title of the process.
    item, items : str
        What one row makes, singular and plural ("chip", "chips").
    steps, parameters, families, modes : tuple
        In the order of the description.
    constants : mapping of str to float
        Values the formulas use and a lab sets for itself (densities, areas).
    rated_limits, rules, cautions : tuple
        Limits never to pass, sense checks, safety cautions.
    interactions : tuple of pairs of str
        Pairs of columns whose joint effect the trade thinks plausible.
    source, sha256 : str
        Where the description came from, and the hash of its text.
    """

    name: str
    title: str
    item: str
    items: str
    steps: tuple[Step, ...]
    parameters: tuple[Parameter, ...]
    families: tuple[Family, ...]
    modes: tuple[Mode, ...]
    constants: Mapping[str, float]
    rated_limits: tuple[RatedLimit, ...]
    rules: tuple[Rule, ...]
    cautions: tuple[Caution, ...]
    interactions: tuple[tuple[str, str], ...]
    source: str
    sha256: str

    def parameter(self, name: str) -> Parameter:
        """Return the parameter called *name*; KeyError when the process has none such."""
        for parameter in self.parameters:
            if parameter.name == name:
                return parameter
        raise KeyError(name)

    def has(self, name: str) -> bool:
        """Whether the process describes a column called *name*."""
        return any(parameter.name == name for parameter in self.parameters)

    def step(self, name: str) -> Step:
        """Return the step called *name*; KeyError when the process has none such."""
        for step in self.steps:
            if step.name == name:
                return step
        raise KeyError(name)

    def mode(self, name: str) -> Mode:
        """Return the outcome mode called *name*; KeyError when the process has none such."""
        for mode in self.modes:
            if mode.name == name:
                return mode
        raise KeyError(name)

    def caution(self, name: str) -> Caution:
        """Return the caution called *name*; KeyError when the process has none such."""
        for caution in self.cautions:
            if caution.name == name:
                return caution
        raise KeyError(name)
