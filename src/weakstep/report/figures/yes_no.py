"""One yes/no parameter run by run: its marks, what drifted, what happened."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.charting import NO_LIMITS
from weakstep.report.figures.happenings import Happening, lines, told
from weakstep.report.figures.in_time import began_in, fitted_level
from weakstep.report.names import Names
from weakstep.report.plot import Axis, Plot, Points
from weakstep.report.ticks import run_ticks
from weakstep.report.words import count, percent

if TYPE_CHECKING:
    from collections.abc import Sequence

    from weakstep.drift.model import Drift
    from weakstep.runlog.model import RunTable

MARGIN = 0.2


def yes_no_in_time(
    names: Names,
    column: str,
    runs: RunTable,
    drift: Drift | None,
    happened: Sequence[Happening] = (),
) -> Plot | None:
    """Return yes and no run by run, without limits; None when no run says either."""
    values = runs.numbers[column].to_numpy(dtype=float)
    if not np.isfinite(values).any():
        return None
    x = np.arange(1, len(values) + 1, dtype=float)
    return Plot(
        f"time-{column}",
        f"{names.label(column)} run by run",
        f"Each mark is a run. {NO_LIMITS} {told(happened, runs)}".strip(),
        Axis("runs in time order", 0.0, len(x) + 1.0, run_ticks(runs.started_at)),
        Axis(names.label(column), -MARGIN, 1.0 + MARGIN, [(0.0, "no"), (1.0, "yes")]),
        (
            *began_in(drift),
            *lines(happened, runs),
            Points(x, values, "main", "dot", 2.6, "one run", run_value="%{y:.0%} yes"),
            *fitted_level(drift, len(x)),
        ),
    )


def share_of_yes(names: Names, values: np.ndarray) -> str:
    """Return how often a yes was logged, and in how many runs anything was."""
    known = values[np.isfinite(values)]
    if not len(known):
        return "It was never logged."
    yes = int((known == 1.0).sum())
    partly = int(((known > 0.0) & (known < 1.0)).sum())
    said = f"Yes in {count(yes, 'run')} of {len(known)} ({percent(yes / len(known))})"
    if partly:
        said += f", for some {names.process.items} only in {count(partly, 'run')}"
    missing = len(values) - len(known)
    logged = f"not logged in {count(missing, 'run')}" if missing else "logged in every run"
    return f"{said}; {logged}."
