"""Names that look like two spellings of one: asked about, never merged."""

from __future__ import annotations

import difflib
import re
from collections import Counter
from typing import TYPE_CHECKING

from weakstep.runlog.work import Work

if TYPE_CHECKING:
    import pandas as pd

_MOST_PERSONS = 100
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
        if parameter.name == "operator":
            usual = [max(values, key=lambda v: counts[v]) for values in groups.values()]
            _ask_about_persons(work, sorted(usual, key=lambda v: (-counts[v], v)))


def _ask_about_persons(work: Work, names: list[str]) -> None:
    """Ask about names that may be one person's, at most once each."""
    asked: set[str] = set()
    for index, name in enumerate(names[:_MOST_PERSONS]):
        for other in names[index + 1 : _MOST_PERSONS]:
            if other not in asked and may_be_one_person(name, other):
                asked.add(other)
                _ask(work, "operator", [name, other])


def may_be_one_person(name: str, other: str) -> bool:
    """
    Whether two names may be writings of one person's: short forms, initials, one letter wrong.

    Examples
    --------
    >>> may_be_one_person("Anna K.", "Anna"), may_be_one_person("AK", "anna k.")
    (True, True)
    >>> may_be_one_person("OP1", "OP2"), may_be_one_person("Anna", "Ben")
    (False, False)
    """
    if any(character.isdigit() for character in name + other):
        return False
    short, long = sorted((_parts(name), _parts(other)), key=lambda p: (len(p), len("".join(p))))
    if not short or not long:
        return False
    if len(short) == 1 and len(long) > 1 and short[0] == "".join(part[0] for part in long):
        return True
    shared = zip(short, long, strict=False)
    if len(long) > 1 and all(part.startswith(first) for first, part in shared):
        return True
    words = " ".join(short), " ".join(long)
    return min(map(len, words)) >= 5 and difflib.SequenceMatcher(None, *words).ratio() > 0.85


def _parts(name: str) -> list[str]:
    return [part for part in _ONLY_LETTERS.split(name.casefold()) if part]


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
