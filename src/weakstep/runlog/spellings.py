"""Names that look like two spellings of one: asked about, never merged."""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING

from weakstep.runlog.work import Work

if TYPE_CHECKING:
    import pandas as pd

_ONLY_LETTERS = re.compile(r"[\W_]+")


def ask_about_spellings(work: Work) -> None:
    """Ask about category values that differ only in capitals, spaces or punctuation."""
    for parameter in work.process.parameters:
        if parameter.kind != "category" or parameter.role == "outcome":
            continue
        if not work.has(parameter.name):
            continue
        counts = Counter(work.typed[parameter.name].to_numpy(dtype=object).tolist())
        counts.pop("", None)
        groups: dict[str, list[str]] = {}
        for value in counts:
            groups.setdefault(_ONLY_LETTERS.sub("", str(value).casefold()), []).append(str(value))
        for values in groups.values():
            if len(values) > 1:
                _ask(work, parameter.name, sorted(values, key=lambda v: (-counts[v], v)))


def _rows(cells: pd.Series, value: str) -> str:
    count = int((cells == value).sum())
    return "1 row" if count == 1 else f"{count} rows"


def _ask(work: Work, column: str, values: list[str]) -> None:
    """Ask once for each rarer spelling, at its first row."""
    usual = values[0]
    cells = work.typed[column].astype(str)
    for other in values[1:]:
        row = int(work.typed.index[(cells == other).to_numpy(dtype=bool)][0])
        work.problem(
            row,
            column,
            "two_spellings",
            "question",
            f"Looks like another spelling of {usual!r} ({_rows(cells, other)}); "
            "the two are kept apart.",
            f"Write one of them throughout, or put it under [parameters.{column}.spellings] "
            "in the process description.",
            found=other,
        )
