"""Columns of words: yes and no, names, ids."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from weakstep.process.words import plain
from weakstep.runlog.column import Column
from weakstep.runlog.marks import (
    DITTO_FORMS,
    DITTO_WORDS,
    MISSING_NAMES,
    MISSING_WORDS,
    NO_WORDS,
    YES_WORDS,
)

if TYPE_CHECKING:
    import numpy as np

_ABOVE = "same as the row above"
_STANDS_FOR_NOTHING = "stands for a missing value"


def yes_no_column(column: Column) -> np.ndarray:
    """Read a column of yes and no: 1, 0, NaN where missing."""
    import numpy as np

    nan = float("nan")
    values_of = [nan] * len(column.texts.distinct)
    nothing: list[int] = []
    wrong: list[int] = []
    for code, text in enumerate(column.texts.distinct):
        word = text.casefold()
        if word in YES_WORDS:
            values_of[code] = 1.0
        elif word in NO_WORDS:
            values_of[code] = 0.0
        elif word and word not in DITTO_WORDS:
            (nothing if word in MISSING_WORDS else wrong).append(code)
    values = column.texts.spread(values_of, nan).astype(float)
    for row, value in column.fill_ditto(values):
        shown = "missing" if np.isnan(value) else ("yes" if value else "no")
        column.care(row, shown, _ABOVE)
    for row, _ in column.rows_by_text(nothing):
        column.care(row, "missing", _STANDS_FOR_NOTHING)
    for row, _ in column.rows_by_text(wrong):
        column.missing(
            row,
            "not_yes_or_no",
            "Expected yes or no; the cell counts as missing.",
            "Write yes or no.",
        )
    return values


def name_column(column: Column) -> np.ndarray:
    """Read a column of names (categories, ids): the empty text where missing."""
    canonical = {
        plain(other): name
        for name, others in column.parameter.spellings.items()
        for other in (name, *others)
    }
    distinct = column.texts.distinct
    nothing, respelt = [], []
    values_of = list(distinct)
    for code in _worth_a_look(distinct) if not canonical else range(len(distinct)):
        word, value = distinct[code].casefold(), " ".join(distinct[code].split())
        if distinct[code] in DITTO_FORMS or word in MISSING_NAMES:
            value = ""
            if word and distinct[code] not in DITTO_FORMS:
                nothing.append(code)
        elif canonical and canonical.get(plain(value), value) != value:
            value = canonical[plain(value)]
            respelt.append(code)
        values_of[code] = value
    values = column.texts.spread(values_of)
    for row, value in column.fill_ditto(values):
        column.care(row, value or "missing", _ABOVE)
    for row, _ in column.rows_by_text(nothing):
        column.care(row, "missing", _STANDS_FOR_NOTHING)
    for row, code in column.rows_by_text(respelt):
        column.care(row, values_of[code], "another spelling, as the process description says")
    return values


def _worth_a_look(texts: Sequence[str]) -> list[int]:
    """Return the places of the texts that are not simply a name of letters and digits."""
    return [
        code
        for code, text in enumerate(texts)
        if not text.isalnum() or text in DITTO_FORMS or text.casefold() in MISSING_NAMES
    ]
