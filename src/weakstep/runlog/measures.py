"""Measured values that may stand in another unit, or in a column of names: asked, never changed."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING

from weakstep.process.model import Parameter
from weakstep.runlog.units import convert, same_kind, unit_named, units_like
from weakstep.runlog.work import Work

if TYPE_CHECKING:
    import numpy as np

_BARE = re.compile(r"[+-]?[0-9]+(?:[.,][0-9]+)?")
_MEASURED = re.compile(r"[0-9]+(?:[.,][0-9]+)?\s*(?P<unit>\S*)")
_FEWEST = 4  # values
_FAR, _NEAR = 8.0, 2.0  # times the median
_MOST_FAR = 0.1  # of the values; where more lie so far, or more than two of a few, they belong


def ask_about_other_units(work: Work, parameter: Parameter, places: np.ndarray) -> None:
    """
    Ask about bare numbers far from a column's median that another unit brings back to it.

    Far is more than 8 times above or below, back within twice. The cells are used as read: 120
    among hours near 2 may be minutes, and may be right.
    """
    import numpy as np

    values = work.typed[parameter.name].to_numpy(dtype=float)[places]
    positive = values > 0
    if positive.sum() < _FEWEST:
        return
    with np.errstate(divide="ignore", invalid="ignore"):
        away = np.log(values / np.median(values[positive]))
    far = np.flatnonzero(positive & (np.abs(away) > math.log(_FAR)))
    if not len(far) or len(far) > max(2.0, _MOST_FAR * positive.sum()):
        return
    rows = work.typed.index.to_numpy()
    for place in far.tolist():
        row = int(rows[places[place]])
        text = work.text(row, parameter.name)
        unit = _unit_that_brings_back(parameter.unit, away[place])
        if text is None or unit is None or not _BARE.fullmatch(text):
            continue
        work.problem(
            row,
            parameter.name,
            "unit_in_doubt",
            "question",
            f"Used as {values[place]:.6g} {parameter.unit}, far from the other values; in {unit} "
            "it would lie among them.",
            f"Write the unit into the cell: {text} {unit} or {text} {parameter.unit}.",
        )


def _unit_that_brings_back(unit: str, away: float) -> str | None:
    """Return the unit in which a value so far from the median (as a log ratio) lies near it."""
    fits = {}
    for other in units_like(unit):
        if convert(0.0, other, unit) == 0.0:  # proportional: not a temperature
            left = abs(away + math.log(convert(1.0, other, unit)))
            if left <= math.log(_NEAR):
                fits[other] = left
    return min(fits, key=fits.__getitem__) if fits else None


def ask_about_measured_names(
    work: Work, parameter: Parameter, file: str, places: np.ndarray
) -> None:
    """Ask about a column of names (a machine, a lot) that holds numbers, some with their unit."""
    names = work.typed[parameter.name].iloc[places].unique()
    found = [_MEASURED.fullmatch(str(name)) for name in names if name != ""]
    units = [each["unit"] for each in found if each is not None and each["unit"]]
    if None in found or not any(map(_is_sure_unit, units)):
        return
    work.findings.problem(
        "measures_for_names",
        "question",
        f"The column was taken for the {parameter.label}, which has names, but holds measured "
        f"values in {units[0]}.",
        "If it holds something else, give it a header that says so, or name its parameter in a "
        "mapping file (--save-mapping, then --mapping).",
        file=file,
        column=work.header(file, parameter.name),
    )


def _is_sure_unit(word: str) -> bool:
    """Whether a word after a number is a unit and no letter of a name such as '3 C'."""
    unit = unit_named(word)
    return unit is not None and not same_kind(unit, "C")
