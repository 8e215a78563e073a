"""What both judges of messy files share: what a cell was read as, and whether that is honest."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Protocol

from weakstep.runlog.model import RunLog

UNKNOWABLE = "?"


class Judged(Protocol):
    """A cell that was judged: right, told, told of the whole file only, or silent."""

    @property
    def file(self) -> str:
        """Name of its file."""

    @property
    def honest(self) -> str:
        """What it means."""

    @property
    def verdict(self) -> str:
        """How its reading is judged."""


def read_as(log: RunLog, line: int, column: str) -> str | None:
    """Return what the reader made of a cell, as text; None when its row is not among the runs."""
    rows = log.chips[log.chips["line"] == line]
    if rows.empty:
        return None
    row = rows.iloc[0]
    if column == "outcome":
        return f"{row['failed']} of {row['made']}" if row["made"] > 1 else str(row["mode"])
    if column not in rows.columns:
        return ""
    value = row[column]
    kind = log.process.parameter(column).kind
    if kind == "time":
        return "" if value != value else str(value)[:16]
    if kind == "number":
        return "" if math.isnan(value) else f"{value:.9g}"
    if kind == "yes_no":
        return "" if math.isnan(value) else ("yes" if value else "no")
    return str(value)


def same(honest: str, read: str) -> bool:
    """Whether a reading is the honest one; numbers to a part in a million."""
    if honest == read:
        return True
    try:
        return math.isclose(float(honest), float(read), rel_tol=1e-6)
    except ValueError:
        return False


def share_right(cells: Iterable[Judged]) -> tuple[int, int]:
    """Return how many of the cells that can be known were read right without help."""
    known = [one for one in cells if one.honest != UNKNOWABLE]
    return sum(one.verdict == "right" for one in known), len(known)


def report(cells: Sequence[Judged]) -> str:
    """Return every cell that is not right, and the figures."""
    counts = Counter(one.verdict for one in cells)
    right, known = share_right(cells)
    return "\n".join(
        [
            *(str(one) for one in cells if one.verdict != "right"),
            f"{len({one.file for one in cells})} files, {len(cells)} cells: {dict(counts)}",
            f"read right without help: {right} of {known} = {right / known:.4f}",
        ]
    )
