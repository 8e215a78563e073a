"""Patterns over many cells that make a log less than it seems: told, never corrected."""

from __future__ import annotations

from typing import TYPE_CHECKING

from weakstep.process.model import Parameter
from weakstep.runlog.measures import ask_about_measured_names, ask_about_other_units
from weakstep.runlog.work import Work

if TYPE_CHECKING:
    import numpy as np

_HEAPED_FROM = 40  # values: fewer show no pattern of digits
_HEAPED_DISTINCT = 8
_HEAPED_SHARE = 0.5
_GAP_FROM = 10  # rows
_ZEROS_FROM = 3
_OTHERS_FROM = 10


def look_for_patterns(work: Work) -> None:
    """Tell digits, gaps, zeros, units and names that make one doubt, and runs counted twice."""
    import numpy as np

    places_of = work.typed.groupby("file", sort=False).indices
    by_file = {str(file): np.asarray(places) for file, places in places_of.items()}
    for parameter in work.process.parameters:
        if parameter.name not in work.texts:
            continue
        for file, places in by_file.items():
            if parameter.kind == "number":
                _tell_heaping(work, parameter, file, places)
                _ask_about_zeros(work, parameter, places)
                if parameter.role != "counter":
                    ask_about_other_units(work, parameter, places)
            elif parameter.kind == "category" and parameter.role != "outcome":
                ask_about_measured_names(work, parameter, file, places)
            if parameter.role not in ("outcome", "identity"):
                _tell_gaps(work, parameter, file, places)
    _ask_about_counted_twice(work)


def _tell_heaping(work: Work, parameter: Parameter, file: str, places: np.ndarray) -> None:
    """
    Tell a column more than half of whose whole numbers end in 0 or 5.

    By chance a fifth do. Told for columns of whole numbers with at least 40 values, 8 of them
    different, that span at least 20.
    """
    import numpy as np

    values = work.typed[parameter.name].to_numpy(dtype=float)[places]
    values = values[~np.isnan(values)]
    if len(values) < _HEAPED_FROM or np.any(values != np.floor(values)):
        return
    distinct = np.unique(values)
    if len(distinct) < _HEAPED_DISTINCT or distinct[-1] - distinct[0] < 20:
        return
    share = float(np.mean(values % 5 == 0))
    if share > _HEAPED_SHARE:
        work.findings.problem(
            "heaped_digits",
            "note",
            f"{100 * share:.0f} % of the values end in 0 or 5, by chance 20 % would: they look "
            "rounded, or written down from memory.",
            "Write what the instrument shows, at once; small changes cannot be seen in rounded "
            "values.",
            file=file,
            column=work.header(file, parameter.name),
        )


def _tell_gaps(work: Work, parameter: Parameter, file: str, places: np.ndarray) -> None:
    """Tell the longest stretch of empty cells in a column that is mostly filled."""
    import numpy as np

    rows = work.typed.index.to_numpy()[places]
    empty = ~work.texts[parameter.name].filled()[rows]
    if len(rows) < 2 * _GAP_FROM or empty.mean() > 0.5:
        return
    edges = np.flatnonzero(np.diff(np.concatenate(([False], empty, [False])).astype(int)))
    if not len(edges):
        return
    lengths = edges[1::2] - edges[::2]
    longest = int(np.argmax(lengths))
    if lengths[longest] < _GAP_FROM:
        return
    first, last = int(rows[edges[2 * longest]]), int(rows[edges[2 * longest + 1] - 1])
    work.findings.problem(
        "long_gap",
        "note",
        f"No cell is filled from line {work.place(first)[1]} to line {work.place(last)[1]}, "
        f"{lengths[longest]} rows on end.",
        "If the values stand elsewhere, fill them in; a gap can hide a change.",
        file=file,
        line=work.place(first)[1],
        column=work.header(file, parameter.name),
    )


def _ask_about_zeros(work: Work, parameter: Parameter, places: np.ndarray) -> None:
    """Ask about zeros far below all other values of a column that may hold zeros."""
    import numpy as np

    if parameter.role in ("counter", "outcome") or parameter.lower != 0:
        return
    values = work.typed[parameter.name].to_numpy(dtype=float)[places]
    zeros, others = np.flatnonzero(values == 0), values[values > 0]
    if len(zeros) < _ZEROS_FROM or len(others) < _OTHERS_FROM:
        return
    if others.min() < np.median(others) / 2:
        return
    row = int(work.typed.index.to_numpy()[places[zeros[0]]])
    unit = f" {parameter.unit}" if parameter.unit else ""
    work.problem(
        row,
        parameter.name,
        "zero_or_missing",
        "question",
        f"{len(zeros)} cells are 0 while all others lie between {others.min():g} and "
        f"{others.max():g}{unit}; they are used as 0.",
        "If 0 stands for 'not measured', leave the cells empty.",
    )


def _ask_about_counted_twice(work: Work) -> None:
    """Ask about runs whose chips are counted in several rows of one kind."""
    import numpy as np

    if not work.has("run_id"):
        return
    counted = work.typed[(work.typed["made"] > 1) & (work.typed["run_id"] != "")]
    rows_of = counted.groupby(["file", "run_id"], sort=False)
    for rows in map(np.asarray, rows_of.indices.values()):
        run = counted["run_id"].iloc[rows[0]]
        if len(rows) < 2 or len(set(counted["made"].to_numpy()[rows].tolist())) > 1:
            continue
        items = work.process.items
        work.problem(
            int(counted.index[rows[0]]),
            None,
            "run_counted_again",
            "question",
            f"{len(rows)} rows of run {run} each count {counted['made'].iloc[rows[0]]} {items}; "
            "all were added up.",
            f"If the rows speak of the same {items}, keep one of them.",
            found=str(run),
        )
