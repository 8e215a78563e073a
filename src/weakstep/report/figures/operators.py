"""Who ran what: the runs of each operator along the log."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.report.plot import Axis, Plot, Points, Table, row_axis
from weakstep.report.ticks import run_ticks
from weakstep.report.words import count, date, percent

if TYPE_CHECKING:
    from collections.abc import Mapping

    from weakstep.runlog.model import RunTable

MOST_ROWS = 30
EVENED_OUT = "evened out"
EVENED_NOTE = (
    "Evened out: the share with the help of the other rows, because few failures make shares look "
    "more different than they are; in brackets the 95 % interval. Compare by that one."
)


def who_ran(runs: RunTable, evened: Mapping[str, str] | None = None) -> Plot | None:
    """
    Return the runs of every operator in time order; None with one operator or none.

    Parameters
    ----------
    runs : RunTable
    evened : mapping of str to str, optional
        Share of failures of each operator with the help of the others, in words.
    """
    operators = np.array([str(name) for name in runs.operator], dtype=object)
    names, runs_of = np.unique(operators, return_counts=True)
    if len(names) < 2:
        return None
    shown = names[np.argsort(-runs_of, kind="stable")]
    rows = {name: row for row, name in enumerate(shown)}
    drawn = np.array([rows[name] < MOST_ROWS for name in operators])
    where = (np.flatnonzero(drawn) + 1.0, np.array([rows[name] for name in operators[drawn]]))
    see = (
        "Each mark is a run. Where a parameter moves just as the operators change, this log cannot "
        "tell the two apart."
    )
    if len(shown) > MOST_ROWS:
        see += f" {count(len(shown) - MOST_ROWS, 'operator')} with fewer runs in the table only."
    return Plot(
        "operators",
        "The runs of each operator along the log",
        see,
        Axis("runs in time order", 0.0, len(runs) + 1.0, run_ticks(runs.started_at)),
        row_axis([_said(name) for name in shown[:MOST_ROWS]]),
        (Points(where[0], where[1].astype(float), "main", "square", 3.5),),
        _table(runs, operators, shown, evened or {}),
    )


def _said(name: str) -> str:
    return name or "not logged"


def _table(
    runs: RunTable, operators: np.ndarray, shown: np.ndarray, evened: Mapping[str, str]
) -> Table:
    failed = np.sum(list(runs.failed.values()), axis=0) if runs.failed else 0 * runs.tested
    rows = []
    for name in shown:
        mine = np.flatnonzero(operators == name)
        tested, lost = int(runs.tested[mine].sum()), int(failed[mine].sum())
        share = percent(lost / tested) if tested else "–"
        ends = [date(np.datetime64(runs.started_at[place])) for place in (mine[0], mine[-1])]
        counts = (str(len(mine)), str(tested), str(lost), share, evened.get(name, "–"))
        rows.append((_said(name), *counts, *(end or "–" for end in ends)))
    return Table(
        "Runs and failures by operator",
        ("operator", "runs", "tested", "failed", "share", EVENED_OUT, "first run", "last run"),
        tuple(rows),
        (False, True, True, True, True, True),
        f"{EVENED_NOTE} Operators also differ in what else was logged in their runs.",
    )
