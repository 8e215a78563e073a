"""Failures by the value of a category, or by yes and no, as a table."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from weakstep.report.figures.operators import EVENED_NOTE, EVENED_OUT
from weakstep.report.plot import Table
from weakstep.report.tallies import evened_out
from weakstep.report.words import percent

if TYPE_CHECKING:
    from weakstep.report.names import Names
    from weakstep.reviewing import Review
    from weakstep.runlog.model import RunTable


def values_in_words(names: Names, runs: RunTable, column: str) -> np.ndarray | None:
    """Return the value of each run in words, shape (n_runs,); None for a number."""
    if column in runs.categories:
        return np.array([str(value) for value in runs.categories[column]])
    if not names.is_yes_no(column) or column not in runs.numbers:
        return None
    shares = runs.numbers[column].to_numpy(dtype=float)
    words = np.where(shares == 1.0, "yes", np.where(shares == 0.0, "no", "both"))
    return np.where(np.isfinite(shares), words, "")


def by_value(review: Review, names: Names, column: str, values: np.ndarray) -> Table:
    """Return runs and failures by the value that *values*, shape (n_runs,), has in words."""
    runs, evened = review.log.runs, evened_out(review.failures.tally, column)
    failed = sum(
        (np.asarray(part) for part in runs.failed.values()), np.zeros(len(runs), dtype=int)
    )
    rows = []
    for value in sorted(set(values.tolist()), key=_as_counted):
        mine = values == value
        tested, lost = int(runs.tested[mine].sum()), int(failed[mine].sum())
        share = percent(lost / tested) if tested else "–"
        said = (value or "not logged", str(int(mine.sum())), str(tested), str(lost), share)
        rows.append((*said, evened.get(value, "–")) if evened else said)
    return Table(
        f"Failures by {names.label(column)}",
        (names.label(column), "runs", "tested", "failed", "share", *([EVENED_OUT] * bool(evened))),
        tuple(rows),
        (False, True, True, True, True, *([True] * bool(evened))),
        f"{EVENED_NOTE if evened else ''} Other things differ between these rows too.".strip(),
    )


def _as_counted(value: str) -> tuple[bool, list[tuple[int, str]], str]:
    """Order P2 before P10, and what was not logged last."""
    parts = (part.lstrip("0") for part in re.findall(r"\d+|\D+", value))
    # Of two numbers the one with more digits is larger; any number of digits will do.
    counted = [(len(part) if part[:1].isdecimal() else 0, part) for part in parts]
    return not value, counted, value
