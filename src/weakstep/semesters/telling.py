"""Which semester a run belongs to: from a column, from folders, or from the gaps between dates."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from weakstep.runlog.model import RunLog

    Days = NDArray[np.datetime64]
    Places = NDArray[np.int_]

COLUMN = "semester"
SHORTEST_GAP = 28  # days; longer than a holiday within a semester
_USUAL_GAPS = 4.0  # times the upper quartile of the log's own gaps, for logs with few days
_MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)


@dataclass(frozen=True, eq=False)
class Told:
    """
    The semesters of a log.

    Attributes
    ----------
    names : tuple of str
        In order of time.
    of_run : array of int, shape (n_runs,)
        Place of each run's semester in `names`; -1 where unknown.
    by : str
        What tells them apart, as a sentence says it; empty when there is only one.
    """

    names: tuple[str, ...]
    of_run: Places
    by: str


def tell_semesters(log: RunLog) -> Told:
    """
    Tell the semesters of a log apart.

    The first of these that gives two or more decides: the column `semester`, where the log fills
    it; the folders that the files lie in, where their dates do not overlap; gaps without a run of
    at least four weeks that are also four times as long as most gaps of the log (four times their
    upper quartile).

    Returns
    -------
    Told
        One semester, named by its months, when nothing tells more.
    """
    days = log.runs.started_at.astype("datetime64[D]")
    return _by_column(log, days) or _by_folder(log, days) or _by_gap(days)


def _by_column(log: RunLog, days: Days) -> Told | None:
    if COLUMN not in log.runs.categories.columns:
        return None
    words = log.runs.categories[COLUMN].astype(str).to_numpy()
    told = [word for word in dict.fromkeys(words.tolist()) if word not in ("", "several")]
    if len(told) < 2:
        return None
    first = {word: _first_day(days[words == word]) for word in told}
    names = sorted(told, key=lambda word: (first[word] is None, first[word] or 0))
    places = {name: place for place, name in enumerate(names)}
    of_run = np.array([places.get(word, -1) for word in words.tolist()], dtype=int)
    return Told(tuple(names), of_run, f"the column '{COLUMN}'")


def _by_folder(log: RunLog, days: Days) -> Told | None:
    """Folders as semesters, unless two of them were kept at the same time."""
    folder_of = {one.file: one.folder for one in log.inputs}
    if len(set(folder_of.values())) < 2:
        return None
    file_of = log.chips.drop_duplicates("run").set_index("run")["file"]
    folders = np.array([folder_of.get(str(file_of[run]), "") for run in log.runs.run_id])
    told = [name for name in dict.fromkeys(folders.tolist()) if name]
    spans = []
    for name in told:
        inside = days[(folders == name) & ~np.isnat(days)]
        if not len(inside):
            return None
        spans.append((inside.min(), inside.max(), name))
    spans.sort()
    if len(spans) < 2 or any(later[0] <= earlier[1] for earlier, later in pairwise(spans)):
        return None
    places = {name: place for place, (_, _, name) in enumerate(spans)}
    of_run = np.array([places.get(name, -1) for name in folders.tolist()], dtype=int)
    return Told(tuple(name for _, _, name in spans), of_run, "the folder of each file")


def _by_gap(days: Days) -> Told:
    of_run = semesters_of(days)
    count = int(of_run.max(initial=-1)) + 1
    spans = [days[(of_run == place) & ~np.isnat(days)] for place in range(count)]
    names = tuple(months_words(span.min(), span.max()) for span in spans)
    longest = f"gaps of {SHORTEST_GAP} days and more without a run" if count > 1 else ""
    return Told(_told_apart(names, spans), of_run, longest)


def semesters_of(days: Days) -> Places:
    """
    Count semesters from gaps between days.

    Parameters
    ----------
    days : array of datetime64[D], shape (n_runs,)
        In order of time; a run without a day goes with the run before it.

    Returns
    -------
    array of int, shape (n_runs,)
        From 0; -1 for runs before the first dated one, and for all when there is none.

    Examples
    --------
    >>> days = ["2026-03-02", "2026-03-09", "2026-03-12", "2026-09-14", "NaT", "2026-09-15"]
    >>> semesters_of(np.array(days, dtype="datetime64[D]")).tolist()
    [0, 0, 0, 1, 1, 1]
    """
    known = np.unique(days[~np.isnat(days)])
    gaps = np.diff(known).astype(int)
    if not len(known):
        return np.full(len(days), -1)
    usual = float(np.quantile(gaps, 0.75, method="lower")) if len(gaps) else 0.0
    longest = max(float(SHORTEST_GAP), _USUAL_GAPS * usual)
    starts = known[np.concatenate([[True], gaps >= longest])]
    dated = np.where(np.isnat(days), -1, np.arange(len(days)))
    latest = np.maximum.accumulate(dated)
    found = np.searchsorted(starts, days[latest], side="right") - 1
    return np.where(latest < 0, -1, found)


def _first_day(days: Days) -> int | None:
    known = days[~np.isnat(days)]
    return int(known.min().astype(int)) if len(known) else None


def months_words(first: np.datetime64, last: np.datetime64) -> str:
    """
    Name a stretch of time by its months.

    Examples
    --------
    >>> months_words(np.datetime64("2026-03-02"), np.datetime64("2026-06-18"))
    'March to June 2026'
    >>> months_words(np.datetime64("2025-10-06"), np.datetime64("2026-02-06"))
    'October 2025 to February 2026'
    """
    ends = [(_MONTHS[int(m) % 12], 1970 + int(m) // 12) for m in _months(first, last)]
    (begin, year), (end, last_year) = ends
    if year != last_year:
        return f"{begin} {year} to {end} {last_year}"
    return f"{begin} {year}" if begin == end else f"{begin} to {end} {year}"


def month_name(number: int) -> str:
    """Return the name of a month, counted from 1."""
    return _MONTHS[number - 1]


def _months(*days: np.datetime64) -> list[int]:
    return [int(day.astype("datetime64[M]").astype(int)) for day in days]


def _told_apart(names: tuple[str, ...], spans: list[Days]) -> tuple[str, ...]:
    """Put the first day before names that two semesters share."""
    return tuple(
        f"{name} (from {span.min()})" if names.count(name) > 1 else name
        for name, span in zip(names, spans, strict=True)
    )
