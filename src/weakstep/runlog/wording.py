"""Columns of words: yes and no, names, ids."""

from __future__ import annotations

from typing import TYPE_CHECKING

from weakstep.process.words import plain
from weakstep.runlog.column import Column
from weakstep.runlog.marks import (
    DITTO_WORDS,
    MISSING_NAMES,
    MISSING_WORDS,
    NO_WORDS,
    YES_WORDS,
)

if TYPE_CHECKING:
    import numpy as np


def yes_no_column(column: Column) -> np.ndarray:
    """Read a column of yes and no: 1, 0, NaN where missing."""
    import numpy as np

    nan = float("nan")
    values: list[float] = []
    for row, text in enumerate(column.texts):
        word = text.casefold()
        value = nan
        if word in YES_WORDS:
            value = 1.0
        elif word in NO_WORDS:
            value = 0.0
        elif word in DITTO_WORDS:
            value = values[-1] if values else nan
            shown = {1.0: "yes", 0.0: "no"}.get(value, "missing")
            column.care(row, shown, "same as the row above")
        elif word in MISSING_WORDS:
            if word:
                column.care(row, "missing", "stands for a missing value")
        else:
            column.missing(
                row,
                "not_yes_or_no",
                "Expected yes or no; the cell counts as missing.",
                "Write yes or no.",
            )
        values.append(value)
    return np.array(values, dtype=float)


def name_column(column: Column) -> list[str]:
    """Read a column of names (categories, ids): the empty text where missing."""
    canonical = {
        plain(other): name
        for name, others in column.parameter.spellings.items()
        for other in (name, *others)
    }
    values: list[str] = []
    for row, text in enumerate(column.texts):
        value = " ".join(text.split())
        if text.casefold() in DITTO_WORDS:
            value = values[-1] if values else ""
            column.care(row, value or "missing", "same as the row above")
        elif text.casefold() in MISSING_NAMES:
            value = ""
            if text:
                column.care(row, "missing", "stands for a missing value")
        elif canonical and canonical.get(plain(value), value) != value:
            value = canonical[plain(value)]
            column.care(row, value, "another spelling, as the process description says")
        values.append(value)
    return values
