"""The words and counts in which a log writes outcomes."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass

from weakstep.process.model import Mode, Process
from weakstep.process.words import plain

_SHARE = re.compile(
    r"(?P<part>\d{1,6})\s*(?:/|of|von|out of)\s*(?P<all>\d{1,6})\s*(?P<word>.*)", re.IGNORECASE
)
_TERM = re.compile(r"(?P<count>\d{1,6})\s*[x×]?\s*(?P<word>[^\d\s].*)")
_BETWEEN_TERMS = re.compile(r"\s*(?:[,;+&]|\band\b|\bund\b|\bet\b|\by\b)\s*", re.IGNORECASE)
_FAILED_HOW = re.compile(r"(?P<failed>[^:(–-]+?)\s*[:(–-]\s*(?P<how>[^)]+?)\s*\)?")


@dataclass(frozen=True)
class Outcome:
    """What one row says: mode, chips it stands for, how many of them failed."""

    mode: str
    made: int
    failed: int


class OutcomeWords:
    """The words that a process knows for its outcomes."""

    def __init__(self, process: Process) -> None:
        words = {plain(mode.label): mode for mode in process.modes}
        words |= {plain(word): mode for mode in process.modes for word in mode.aliases}
        self._modes = words | {plain(mode.name): mode for mode in process.modes}
        self._own = {plain(word) for mode in process.modes for word in (mode.name, mode.label)}

    def mode(self, word: str) -> Mode | None:
        """Return the mode that *word* stands for, None when it is not described."""
        known = self._modes.get(plain(word)) or self._failed_how(word)
        if known is None and re.fullmatch(r"[01]\.0*", word):
            return self._modes.get(word[0])
        return known

    def _failed_how(self, word: str) -> Mode | None:
        """Return the second mode of "failed: leak" and "bad (leak)": both say that it failed."""
        found = _FAILED_HOW.fullmatch(word)
        first = self._modes.get(plain(found["failed"])) if found else None
        if found is None or first is None or first.name != "failed":
            return None
        how = self._modes.get(plain(found["how"]))
        return how if how is not None and how.verdict == "failed" else None

    def is_own(self, word: str) -> bool:
        """Whether *word* is a mode's own name and not one of its other writings."""
        return plain(word) in self._own

    def nearest(self, word: str) -> str | None:
        """Return the described word that looks most like *word*."""
        near = difflib.get_close_matches(plain(word), list(self._modes), n=1, cutoff=0.7)
        return near[0] if near else None


def share_of(text: str, words: OutcomeWords) -> Outcome | None:
    """Read "4/6 ok" or "2 of 6 leaked"; a share without a word says nothing."""
    share = _SHARE.fullmatch(text)
    if share is None:
        return None
    part, made = int(share["part"]), int(share["all"])
    mode = words.mode(share["word"].strip(" :,-()")) if share["word"].strip() else None
    if mode is None or mode.verdict == "untested" or part > made or not made:
        return None
    failed = made - part if mode.verdict == "good" else part
    name = mode.name if mode.verdict == "failed" or failed == 0 else ""
    return Outcome(name, made, failed)


def tally_of(text: str, words: OutcomeWords) -> Outcome | None:
    """Read "5 ok, 1 leak"; every term must be a count and a described word."""
    good = failed = 0
    modes = set()
    for term in _BETWEEN_TERMS.split(text):
        found = _TERM.fullmatch(term)
        mode = None if found is None else words.mode(found["word"].strip(" :,-()"))
        if found is None or mode is None or mode.verdict == "untested":
            return None
        if mode.verdict == "good":
            good += int(found["count"])
        else:
            failed += int(found["count"])
            modes.add(mode.name)
    return Outcome(modes.pop() if len(modes) == 1 else "", good + failed, failed)
