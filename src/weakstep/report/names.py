"""Columns, steps, families and modes by the words the process description gives them."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from weakstep.process.words import printed_unit
from weakstep.report.words import percent, plain

if TYPE_CHECKING:
    from weakstep.failures.model import Window
    from weakstep.interval import Interval
    from weakstep.process.model import Parameter, Process


LOG_AXIS_FROM = 5.0


@dataclass(frozen=True)
class Names:
    """
    Words and units for one process.

    A column the process does not describe (a lab's own) keeps its name as its label.

    Attributes
    ----------
    process : Process
    """

    process: Process

    def parameter(self, column: str) -> Parameter | None:
        """Return the described parameter, None for a column of the lab's own."""
        return self._described.get(column)

    @cached_property
    def _described(self) -> dict[str, Parameter]:
        return {parameter.name: parameter for parameter in self.process.parameters}

    def label(self, column: str) -> str:
        """Return the words for a column."""
        parameter = self.parameter(column)
        return parameter.label if parameter and parameter.label else column.replace("_", " ")

    def in_words(self, text: str) -> str:
        """Return text in which every described column stands by its words."""
        return re.sub(r"\w+", lambda m: self.label(m[0]) if m[0] in self._described else m[0], text)

    def in_items(self, text: str) -> str:
        """Return a text about items in which they are called what the process makes."""
        words = {"item": self.process.item, "items": self.process.items}
        return re.sub(r"\bitems?\b", lambda m: words[m[0]], text)

    def unit(self, column: str) -> str:
        """Return the unit of a column, "" when it has none."""
        parameter = self.parameter(column)
        return printed_unit(parameter.unit) if parameter else ""

    def with_unit(self, column: str) -> str:
        """Return the label with the unit in brackets, as an axis says it."""
        unit = self.unit(column)
        return f"{self.label(column)} ({unit})" if unit else self.label(column)

    def is_yes_no(self, column: str) -> bool:
        """Whether the column says yes or no; the value of a run is then its share of yes."""
        parameter = self.parameter(column)
        return parameter is not None and parameter.kind == "yes_no"

    def bare(self, column: str, value: float) -> str:
        """Return a value to the decimals worth printing, without its unit; yes and no in words."""
        if self.is_yes_no(column) and math.isfinite(value):
            return {0.0: "no", 1.0: "yes"}.get(value, f"{percent(value)} yes")
        parameter = self.parameter(column)
        return plain(value, parameter.decimals if parameter else None)

    def at(self, column: str, value: float) -> str:
        """Return where a curve is read: "at 45 s", "with no"."""
        return f"{'with' if self.is_yes_no(column) else 'at'} {self.value(column, value)}"

    def value(self, column: str, value: float) -> str:
        """Return a value with its unit."""
        unit = self.unit(column)
        return f"{self.bare(column, value)}\u00a0{unit}" if unit else self.bare(column, value)

    def spread(self, column: str, value: float) -> str:
        """Return a standard deviation with its unit, to two digits however small it is."""
        unit = self.unit(column)
        said = plain(value, max(0, 1 - math.floor(math.log10(value)))) if value > 0 else "0"
        return f"{said}\u00a0{unit}" if unit else said

    def window(self, column: str, window: Window | None) -> str:
        """Return a window in words: "at most 45 s", "between 30 and 40 s", "at no"."""
        if window is None or (window.lower is None and window.upper is None):
            return ""
        if self.is_yes_no(column):
            return "at no" if window.lower is None else "at yes"
        if window.lower is None and window.upper is not None:
            return f"at most {self.value(column, window.upper)}"
        if window.upper is None and window.lower is not None:
            return f"at least {self.value(column, window.lower)}"
        lower, upper = window.lower or 0.0, window.upper or 0.0
        return f"between {self.bare(column, lower)} and {self.value(column, upper)}"

    def on_log_axis(self, column: str, values: np.ndarray) -> bool:
        """Whether values span enough factors, and are described so, to need a log axis."""
        parameter = self.parameter(column)
        known = values[np.isfinite(values)]
        if parameter is None or parameter.scale != "log" or not len(known) or known.min() <= 0:
            return False
        return bool(known.max() / known.min() >= LOG_AXIS_FROM)

    def step(self, name: str | None) -> str:
        """Return the words for a step, "no step" for what belongs to none."""
        labels = {step.name: step.label or step.name for step in self.process.steps}
        return labels.get(name or "", name or "no step")

    def failures(self, name: str | None) -> str:
        """Return the failures of a family as a phrase: "bond failures"."""
        labels = {family.name: family.label or family.name for family in self.process.families}
        label = labels.get(name or "", name or "other")
        return label if "failure" in label else f"{label} failures"

    def family(self, name: str | None) -> str:
        """Return the short word for a failure family, as a row says it: "bond"."""
        return self.failures(name).removesuffix(" failures")

    def mode(self, name: str) -> str:
        """Return the words for a failure mode."""
        labels = {mode.name: mode.label or mode.name for mode in self.process.modes}
        return labels.get(name, name or "mode not written")


def odds_words(odds_ratio: Interval | None, per: str) -> str:
    """Return an odds ratio in words, "" when there is none."""
    if odds_ratio is None:
        return ""
    ends = f"{plain(odds_ratio.lower)} to {plain(odds_ratio.upper)}"
    what = per if per.startswith("per ") else f"for {per}"
    return f"odds × {plain(odds_ratio.estimate)} {what} ({ends})"
