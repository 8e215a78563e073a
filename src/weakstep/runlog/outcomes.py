"""Outcome words and counts -> mode, chips made and chips failed of every row."""

from __future__ import annotations

import difflib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from weakstep.process.model import Mode, Process
from weakstep.process.words import plain

if TYPE_CHECKING:
    import numpy as np

    from weakstep.runlog.work import Work

MADE, FAILED = "chips_made", "chips_failed"
_SHARE = re.compile(
    r"(?P<part>\d{1,6})\s*(?:/|of|von|out of)\s*(?P<all>\d{1,6})\s*(?P<word>.*)", re.IGNORECASE
)
_LARGEST_COUNT = 1e6


@dataclass(frozen=True)
class Outcome:
    """What one row says: mode, chips it stands for, how many of them failed."""

    mode: str
    made: int
    failed: int


def outcome_column(process: Process) -> str | None:
    """Return the column that holds the outcome word: `outcome`, or the one that can be it."""
    if process.has("outcome"):
        return "outcome"
    for parameter in process.parameters:
        if parameter.role == "outcome" and parameter.kind in ("category", "yes_no"):
            return parameter.name
    return None


class OutcomeWords:
    """The words that a process knows for its outcomes."""

    def __init__(self, process: Process) -> None:
        words = {plain(mode.label): mode for mode in process.modes}
        words |= {plain(word): mode for mode in process.modes for word in mode.aliases}
        self._modes = words | {plain(mode.name): mode for mode in process.modes}
        self._own = {plain(word) for mode in process.modes for word in (mode.name, mode.label)}

    def mode(self, word: str) -> Mode | None:
        """Return the mode that *word* stands for, None when it is not described."""
        known = self._modes.get(plain(word))
        if known is None and re.fullmatch(r"[01]\.0*", word):
            return self._modes.get(word[0])
        return known

    def is_own(self, word: str) -> bool:
        """Whether *word* is a mode's own name and not one of its other writings."""
        return plain(word) in self._own

    def nearest(self, word: str) -> str | None:
        """Return the described word that looks most like *word*."""
        near = difflib.get_close_matches(plain(word), list(self._modes), n=1, cutoff=0.7)
        return near[0] if near else None


def add_outcomes(work: Work) -> None:
    """Add the columns `mode`, `made` and `failed`, and set aside counts that cannot be."""
    import numpy as np
    import pandas as pd

    described = outcome_column(work.process)
    column = described if described is not None and work.has(described) else None
    if column is None and not work.has(FAILED):
        _tell_no_outcome(work)
    words = OutcomeWords(work.process)
    rows = work.typed.index.to_numpy()
    texts = np.full(len(rows), "", dtype=object)
    if column is not None:
        texts = work.typed[column].fillna("").to_numpy(dtype=object)
    codes, distinct = pd.factorize(texts)
    first = [_of_text(work, str(text), words) for text in distinct]
    _tell_texts(work, column, rows, codes, first)
    made, failed = _counts(work, MADE), _counts(work, FAILED)
    mode, total, bad = _spread([read.outcome for read in first], codes)
    counted = np.flatnonzero(~(np.isnan(made) & np.isnan(failed)))
    for at in counted.tolist():
        read = first[codes[at]].outcome
        outcome = _of_counts(
            work, int(rows[at]), read, str(texts[at]), _whole(made[at]), _whole(failed[at])
        )
        mode[at], total[at], bad[at] = outcome.mode, outcome.made, outcome.failed
    _tell_words(work, texts, words)
    work.typed["mode"] = pd.Series(mode, index=rows, dtype=object)
    work.typed["made"] = total
    work.typed["failed"] = bad
    _set_impossible_aside(work)


@dataclass(frozen=True)
class _TextRead:
    """An outcome text: what it says, and what is to be told of it."""

    text: str
    outcome: Outcome
    counts: bool = False
    known: bool = True
    nearest: str | None = None


def _spread(
    outcomes: Sequence[Outcome], codes: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return mode, chips made and chips failed of every row."""
    import numpy as np

    modes = np.array([outcome.mode for outcome in outcomes], dtype=object)
    made = np.array([outcome.made for outcome in outcomes], dtype=np.int64)
    failed = np.array([outcome.failed for outcome in outcomes], dtype=np.int64)
    return modes[codes], made[codes], failed[codes]


def _whole(value: float) -> int | None:
    return None if value != value else int(value)


def _untested(process: Process, name: str) -> str:
    """Return the untested mode called *name*, else the first untested one."""
    untested = [mode.name for mode in process.modes if mode.verdict == "untested"]
    return name if name in untested else untested[0]


def _of_text(work: Work, text: str, words: OutcomeWords) -> _TextRead:
    if not text:
        return _TextRead(text, Outcome(_untested(work.process, "not_tested"), 1, 0))
    mode = words.mode(text)
    if mode is not None:
        return _TextRead(text, Outcome(mode.name, 1, int(mode.verdict == "failed")))
    share = _SHARE.fullmatch(text)
    if share is not None and int(share["all"]) > 0:
        outcome = _of_share(share, words)
        if outcome is not None:
            return _TextRead(text, outcome, counts=True)
    unknown = Outcome(_untested(work.process, "unknown"), 1, 0)
    return _TextRead(text, unknown, known=False, nearest=words.nearest(text))


def _of_share(share: re.Match[str], words: OutcomeWords) -> Outcome | None:
    """Read "4/6 ok" or "2 of 6 leaked"; a share without a word says nothing."""
    part, made = int(share["part"]), int(share["all"])
    mode = words.mode(share["word"].strip(" :,-()")) if share["word"].strip() else None
    if mode is None or mode.verdict == "untested" or part > made:
        return None
    failed = made - part if mode.verdict == "good" else part
    name = mode.name if mode.verdict == "failed" or failed == 0 else ""
    return Outcome(name, made, failed)


def _tell_texts(
    work: Work, column: str | None, rows: np.ndarray, codes: np.ndarray, reads: Sequence[_TextRead]
) -> None:
    """Tell every row whose outcome is a count or a word that is not described."""
    import numpy as np

    told = np.array([read.counts or not read.known for read in reads], dtype=bool)
    for at in np.flatnonzero(told[codes]).tolist():
        read, row = reads[codes[at]], int(rows[at])
        if read.counts:
            file, line = work.place(row)
            header = work.header(file, column or "")
            why = f"counts {work.process.items} in one row"
            shown = f"{read.outcome.failed} of {read.outcome.made} failed"
            work.findings.care(file, line, header, read.text, shown, why)
            continue
        hint = f"Does it mean {read.nearest!r}? " if read.nearest else ""
        work.problem(
            row,
            column,
            "unknown_outcome",
            "question",
            f"The outcome is not described, so the {work.process.item} counts as untested.",
            f"{hint}Write a described outcome, or add the word to the aliases of one.",
        )


def _of_counts(
    work: Work, row: int, outcome: Outcome, text: str, made: int | None, failed: int | None
) -> Outcome:
    """Put the counted columns in the place of the one chip an outcome word stands for."""
    process = work.process
    if made is None and failed is None:
        return outcome
    if made is None:
        work.problem(
            row,
            None,
            "made_missing",
            "question",
            f"The row counts failed {process.items} but not how many were made, "
            "so it counts as untested.",
            "Write how many were made.",
        )
        return Outcome(_untested(process, "unknown"), max(1, failed or 0), 0)
    verdict = process.mode(outcome.mode).verdict if text and outcome.mode else ""
    if failed is not None:
        return Outcome(outcome.mode if verdict == "failed" and failed else "", made, failed)
    if verdict == "good":
        return Outcome(outcome.mode, made, 0)
    if verdict == "failed" and made == 1:
        return outcome
    return Outcome(_untested(process, "not_tested"), made, 0)


def _counts(work: Work, column: str) -> np.ndarray:
    """Return counts, NaN where missing or no whole number (which is told)."""
    import numpy as np

    if not work.has(column):
        return np.full(len(work.typed), np.nan)
    counts = work.typed[column].to_numpy(dtype=float).copy()
    wrong = ~np.isnan(counts) & ~(
        (counts >= 0) & (counts <= _LARGEST_COUNT) & (counts == np.floor(counts))
    )
    for row in work.typed.index[wrong]:
        work.problem(
            int(row),
            column,
            "not_a_count",
            "cell_missing",
            f"Expected a whole number of {work.process.items}; the cell counts as missing.",
            "Write the count.",
        )
    counts[wrong] = np.nan
    return counts


def _tell_words(work: Work, texts: np.ndarray, words: OutcomeWords) -> None:
    """Tell once per file which words were read as which outcome."""
    import pandas as pd

    pairs_of = pd.DataFrame({"file": work.typed["file"].to_numpy(), "text": texts})
    read: dict[str, set[tuple[str, str]]] = {}
    for file, text in pairs_of.drop_duplicates().itertuples(index=False):
        mode = words.mode(text) if text else None
        if mode is not None and not words.is_own(text):
            read.setdefault(str(file), set()).add((text, mode.label))
    for file, pairs in read.items():
        listed = ", ".join(f"{word!r} as {label}" for word, label in sorted(pairs))
        work.findings.problem(
            "outcome_words",
            "note",
            f"Outcome words were read as the description says: {listed}.",
            "Nothing to do unless one is wrong: then change the aliases in the description.",
            file=file,
        )


def _set_impossible_aside(work: Work) -> None:
    items = work.process.items
    impossible = work.typed.loc[work.typed["failed"] > work.typed["made"], ["failed", "made"]]
    for row, failed, made in impossible.itertuples():
        work.problem(
            int(row),
            FAILED,
            "more_failed_than_made",
            "set_aside",
            f"The row says {failed} {items} failed of {made} made, so it was set aside.",
            "Correct the counts.",
        )
    work.set_aside(impossible.index.tolist(), f"more {items} failed than made")


def _tell_no_outcome(work: Work) -> None:
    items = work.process.items
    for file in dict.fromkeys(work.typed["file"]):
        work.findings.problem(
            "no_outcome_column",
            "question",
            f"The log has no outcome, so all its {items} count as untested: "
            "drift can be looked for, causes of failure cannot.",
            "Add an outcome column, or counts of pieces made and failed.",
            file=str(file),
        )
