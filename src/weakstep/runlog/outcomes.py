"""Outcome words and counts -> mode, chips made and chips failed of every row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from weakstep.process.model import Process
from weakstep.runlog.outcome_words import Outcome, OutcomeWords, share_of, tally_of

if TYPE_CHECKING:
    import numpy as np

    from weakstep.runlog.work import Work

MADE, FAILED = "chips_made", "chips_failed"
_LARGEST_COUNT = 1e6


def outcome_column(process: Process) -> str | None:
    """Return the column that holds the outcome word: `outcome`, or the one that can be it."""
    if process.has("outcome"):
        return "outcome"
    for parameter in process.parameters:
        if parameter.role == "outcome" and parameter.kind in ("category", "yes_no"):
            return parameter.name
    return None


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
    made, failed = _counts(work, MADE), _counts(work, FAILED)
    _tell_texts(work, column, rows, codes, first, made)
    mode, total, bad = _spread([read.outcome for read in first], codes)
    counted = np.flatnonzero(~(np.isnan(made) & np.isnan(failed)))
    for at in counted.tolist():
        outcome = _of_counts(
            work, int(rows[at]), first[codes[at]], _whole(made[at]), _whole(failed[at])
        )
        mode[at], total[at], bad[at] = outcome.mode, outcome.made, outcome.failed
    _tell_words(work, codes, [str(text) for text in distinct], words)
    work.typed["mode"] = pd.Series(mode, index=rows, dtype=object)
    work.typed["made"] = total
    work.typed["failed"] = bad
    _set_impossible_aside(work)


@dataclass(frozen=True)
class _TextRead:
    """
    An outcome text: what it says, and what is to be told of it.

    `beside_made` is what it says beside a count of how many were made: "2 leaked" alone does not
    say of how many.
    """

    text: str
    outcome: Outcome
    counts: bool = False
    known: bool = True
    nearest: str | None = None
    beside_made: Outcome | None = None


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
    share = share_of(text, words)
    if share is not None:
        return _TextRead(text, share, counts=True)
    tally = tally_of(text, words)
    if tally is not None and tally.failed < tally.made:
        return _TextRead(text, tally, counts=True)
    unknown = Outcome(_untested(work.process, "unknown"), 1, 0)
    return _TextRead(text, unknown, known=False, nearest=words.nearest(text), beside_made=tally)


def _tell_texts(
    work: Work,
    column: str | None,
    rows: np.ndarray,
    codes: np.ndarray,
    reads: Sequence[_TextRead],
    made: np.ndarray,
) -> None:
    """Tell every row whose outcome is a count or a word that is not described."""
    import numpy as np

    told = np.array([read.counts or not read.known for read in reads], dtype=bool)
    for at in np.flatnonzero(told[codes]).tolist():
        read, row = reads[codes[at]], int(rows[at])
        beside = read.beside_made if made[at] == made[at] else None
        if read.counts or beside is not None:
            file, line = work.place(row)
            header = work.header(file, column or "")
            why = f"counts {work.process.items} in one row"
            shown = f"{read.outcome.failed} of {read.outcome.made} failed"
            if beside is not None:
                shown = f"{beside.failed} of {made[at]:.0f} failed"
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
    work: Work, row: int, read: _TextRead, made: int | None, failed: int | None
) -> Outcome:
    """Put the counted columns in the place of the one chip an outcome word stands for."""
    process, outcome = work.process, read.outcome
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
    verdict = process.mode(outcome.mode).verdict if read.text and outcome.mode else ""
    counted = outcome if read.counts else read.beside_made
    if failed is not None:
        if counted is not None and (counted.failed, outcome.made) != (failed, made):
            _ask_counts(work, row, read.text, f"{failed} of {made}")
        return Outcome(outcome.mode if verdict == "failed" and failed else "", made, failed)
    if read.counts:
        if outcome.made != made:
            _ask_counts(work, row, read.text, f"{outcome.failed} of {outcome.made}")
        return outcome
    if read.beside_made is not None:
        return Outcome(read.beside_made.mode, made, read.beside_made.failed)
    if verdict == "good":
        return Outcome(outcome.mode, made, 0)
    if verdict == "failed" and made == 1:
        return outcome
    if verdict == "failed":
        work.problem(
            row,
            None,
            "failed_missing",
            "question",
            f"The row stands for {made} {process.items} and says {read.text!r} but not of how "
            "many, so it counts as untested.",
            "Write how many failed.",
        )
    return Outcome(_untested(process, "not_tested"), made, 0)


def _ask_counts(work: Work, row: int, text: str, used: str) -> None:
    work.problem(
        row,
        None,
        "counts_disagree",
        "question",
        f"The outcome {text!r} and the counted columns do not agree; {used} failed is used.",
        "Correct the counts.",
    )


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


def _tell_words(
    work: Work, codes: np.ndarray, distinct: Sequence[str], words: OutcomeWords
) -> None:
    """Tell once per file which words were read as which outcome."""
    import numpy as np
    import pandas as pd

    file_codes, files = pd.factorize(work.typed["file"].to_numpy(dtype=object))
    pairs_of = np.unique(file_codes * len(distinct) + codes).tolist() if len(codes) else []
    read: dict[str, set[tuple[str, str]]] = {}
    for file, text in ((files[k // len(distinct)], distinct[k % len(distinct)]) for k in pairs_of):
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
    beyond = (work.typed["failed"] > work.typed["made"]).to_numpy()
    if not beyond.any():
        return
    impossible = work.typed.loc[beyond, ["failed", "made"]]
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
