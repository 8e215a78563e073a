"""Outcome words and counts -> mode, chips made and chips failed of every row."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass

from weakstep.process.model import Mode, Process
from weakstep.process.words import plain
from weakstep.runlog.work import Work

_COUNT = re.compile(r"(?P<part>\d+)\s*(?:/|of|von|out of)\s*(?P<all>\d+)\s*(?P<word>.*)", re.I)
MADE, FAILED = "chips_made", "chips_failed"


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
        self._modes = {
            plain(word): mode for mode in process.modes for word in (mode.name, mode.label)
        }
        self._modes |= {plain(word): mode for mode in process.modes for word in mode.aliases}
        self._modes |= {plain(mode.name): mode for mode in process.modes}

    def mode(self, word: str) -> Mode | None:
        """Return the mode that *word* stands for, None when it is not described."""
        known = self._modes.get(plain(word))
        if known is None and re.fullmatch(r"[01]\.0*", word):
            return self._modes.get(word[0])
        return known

    def nearest(self, word: str) -> str | None:
        """Return the described word that looks most like *word*."""
        near = difflib.get_close_matches(plain(word), list(self._modes), n=1, cutoff=0.7)
        return near[0] if near else None


def add_outcomes(work: Work) -> None:
    """Add the columns `mode`, `made` and `failed`, and set aside counts that cannot be."""
    column = outcome_column(work.process)
    if column is not None and not work.has(column):
        column = None
    counted = work.has(FAILED)
    if column is None and not counted:
        _tell_no_outcome(work)
    words = OutcomeWords(work.process)
    impossible: list[int] = []
    outcomes: dict[int, Outcome] = {}
    for row in work.typed.index:
        text = str(work.typed.at[row, column]).strip() if column is not None else ""
        if text in ("nan", "None", "<NA>"):
            text = ""
        outcome = _of_text(work, int(row), column, text, words)
        if counted or work.has(MADE):
            outcome = _of_counts(work, int(row), outcome, text)
        if outcome.failed > outcome.made:
            impossible.append(int(row))
        outcomes[int(row)] = outcome
    work.typed["mode"] = [outcomes[int(row)].mode for row in work.typed.index]
    work.typed["made"] = [outcomes[int(row)].made for row in work.typed.index]
    work.typed["failed"] = [outcomes[int(row)].failed for row in work.typed.index]
    _set_impossible_aside(work, impossible)


def _untested(process: Process, name: str) -> str:
    """Return the untested mode called *name*, else the first untested one."""
    untested = [mode.name for mode in process.modes if mode.verdict == "untested"]
    if name in untested:
        return name
    return untested[0] if untested else ""


def _of_text(work: Work, row: int, column: str | None, text: str, words: OutcomeWords) -> Outcome:
    if not text:
        return Outcome(_untested(work.process, "not_tested"), 1, 0)
    mode = words.mode(text)
    if mode is not None:
        return Outcome(mode.name, 1, int(mode.verdict == "failed"))
    count = _COUNT.fullmatch(text)
    if count is not None and int(count["all"]) > 0:
        outcome = _of_share(work, row, column, count, words)
        if outcome is not None:
            return outcome
    nearest = words.nearest(text)
    hint = f"Does it mean {nearest!r}? " if nearest else ""
    work.problem(
        row,
        column,
        "unknown_outcome",
        "question",
        f"The outcome is not described, so the {work.process.item} counts as untested.",
        f"{hint}Write a described outcome, or add the word to the aliases of one.",
    )
    return Outcome(_untested(work.process, "unknown"), 1, 0)


def _of_share(
    work: Work, row: int, column: str | None, count: re.Match[str], words: OutcomeWords
) -> Outcome | None:
    """Read "4/6 ok" or "2 of 6 leaked"; a share without a word says nothing."""
    part, made = int(count["part"]), int(count["all"])
    mode = words.mode(count["word"].strip(" :,-()")) if count["word"].strip() else None
    if mode is None or mode.verdict == "untested" or part > made:
        return None
    failed = made - part if mode.verdict == "good" else part
    name = mode.name if mode.verdict == "failed" or failed == 0 else ""
    file, line = work.place(row)
    work.findings.care(
        file,
        line,
        work.header(file, column or ""),
        count[0],
        f"{failed} of {made} failed",
        f"counts {work.process.items} in one row",
    )
    return Outcome(name, made, failed)


def _of_counts(work: Work, row: int, outcome: Outcome, text: str) -> Outcome:
    """Put the counted columns in the place of the one chip an outcome word stands for."""
    made = _count_at(work, row, MADE)
    failed = _count_at(work, row, FAILED)
    if made is None and failed is None:
        return outcome
    if made is None:
        work.problem(
            row,
            None,
            "made_missing",
            "question",
            f"The row counts failed {work.process.items} but not how many were made, "
            "so it counts as untested.",
            "Write how many were made.",
        )
        return Outcome(_untested(work.process, "unknown"), max(1, failed or 0), 0)
    if failed is None:
        verdict = _verdict(work.process, outcome.mode)
        if verdict == "good":
            return Outcome(outcome.mode, made, 0)
        if verdict == "failed" and made == 1:
            return outcome
        return Outcome(_untested(work.process, "not_tested"), made, 0)
    verdict = _verdict(work.process, outcome.mode) if text else ""
    return Outcome(outcome.mode if verdict == "failed" and failed else "", made, failed)


def _verdict(process: Process, mode: str) -> str:
    return process.mode(mode).verdict if mode else ""


def _count_at(work: Work, row: int, column: str) -> int | None:
    """Return a count, None when it is missing or no whole number (which is told)."""
    if not work.has(column):
        return None
    value = float(str(work.typed.at[row, column]))
    if value != value:
        return None
    if value < 0 or value != int(value):
        work.problem(
            row,
            column,
            "not_a_count",
            "cell_missing",
            "Expected a whole number of pieces; the cell counts as missing.",
            "Write the count.",
        )
        return None
    return int(value)


def _set_impossible_aside(work: Work, rows: list[int]) -> None:
    items = work.process.items
    for row in rows:
        made, failed = work.typed.at[row, "made"], work.typed.at[row, "failed"]
        work.problem(
            row,
            FAILED,
            "more_failed_than_made",
            "set_aside",
            f"The row says {failed} {items} failed of {made} made, so it was set aside.",
            "Correct the counts.",
        )
    work.set_aside(rows, f"more {items} failed than made")


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
