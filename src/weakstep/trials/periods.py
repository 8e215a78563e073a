"""Two groups of runs to compare: before and after a moment, or one log and another."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.errors import LogError, NotEnoughError
from weakstep.failures.words import counted

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    import pandas as pd
    from numpy.typing import NDArray

    from weakstep.process.model import Process
    from weakstep.runlog.model import RunLog, RunTable

FEWEST_RUNS = 3  # in each period


def read_window(text: str) -> tuple[float | None, float | None] | None:
    """
    Read a window: two numbers around a colon, one of which may be left out.

    Returns
    -------
    tuple of two floats or None, or None
        None when the text is no window.

    Examples
    --------
    >>> read_window("20:60"), read_window(":60"), read_window("60")
    ((20.0, 60.0), (None, 60.0), None)
    """
    low, colon, high = text.partition(":")
    try:
        lower, upper = float(low) if low.strip() else None, float(high) if high.strip() else None
    except ValueError:
        return None
    if not colon or (lower is None and upper is None):
        return None
    if not all(math.isfinite(end) for end in (lower, upper) if end is not None):
        return None
    if lower is not None and upper is not None and lower > upper:
        return None
    return lower, upper


@dataclass(frozen=True, eq=False)
class Periods:
    """
    Runs of two periods, under one another.

    Attributes
    ----------
    process : Process
    names : tuple of two str
        What the first and the second period are called in a sentence.
    after : array of bool, shape (n_runs,)
        The second period.
    tested : array of int, shape (n_runs,)
    failed : mapping of family name to array of int, shape (n_runs,)
    operator : array of str, shape (n_runs,)
        "" where unknown.
    week : array of int, shape (n_runs,)
        Calendar week of each run; a number of its own in each period.
    numbers : DataFrame, shape (n_runs, n_number_parameters)
    undated : int
        Runs left out because they have no date.
    """

    process: Process
    names: tuple[str, str]
    after: NDArray[np.bool_]
    tested: NDArray[np.int_]
    failed: Mapping[str, NDArray[np.int_]]
    operator: NDArray[np.str_]
    week: NDArray[np.int_]
    numbers: pd.DataFrame
    undated: int = 0

    @property
    def all_failed(self) -> NDArray[np.int_]:
        """Failed chips of all families, shape (n_runs,)."""
        return np.asarray(sum(self.failed.values(), start=0 * self.tested))


def split_at_date(log: RunLog, since: datetime) -> Periods:
    """
    Split a log at a date: runs from it on are the second period.

    Raises
    ------
    LogError
        No run has a date.
    NotEnoughError
        The log ends before the date or begins with it, or fewer than 3 tested runs on either side.
    """
    moments = log.runs.started_at
    dated = ~np.isnat(moments)
    if not dated.any():
        msg = "No run of the log has a date, so it cannot be split at one; name a run instead."
        raise LogError(msg)
    after = moments >= np.datetime64(since, "ns")
    ends = [str(day) for day in (moments[dated].min(), moments[dated].max())]
    if after[dated].all() or not after[dated].any():
        side = "on or after" if after[dated].all() else "before"
        msg = (
            f"Every run of the log is {side} {since:%Y-%m-%d}: they go from {ends[0][:10]} to "
            f"{ends[1][:10]}. Name a date between."
        )
        raise NotEnoughError(msg)
    day = f"{since:%Y-%m-%d}" if since.time() == since.min.time() else f"{since:%Y-%m-%d %H:%M}"
    names = (f"before {day}", f"since {day}")
    return _split(log, after[dated], np.flatnonzero(dated), names, int((~dated).sum()))


def split_at_run(log: RunLog, run_id: str) -> Periods:
    """
    Split a log at a run, which is the first of the second period.

    Raises
    ------
    LogError
        No run is called so.
    NotEnoughError
        Fewer than 3 tested runs on either side.
    """
    places = np.flatnonzero(log.runs.run_id == run_id)
    if not len(places):
        first, last = log.runs.run_id[0], log.runs.run_id[-1]
        msg = f"No run is called '{run_id}'; the log's runs go from {first} to {last}."
        raise LogError(msg)
    every = np.arange(len(log.runs))
    return _split(
        log, every >= places[0], every, (f"before run {run_id}", f"since run {run_id}"), 0
    )


def two_logs(before: RunLog, after: RunLog) -> Periods:
    """
    Compare one log with another of the same process.

    Raises
    ------
    LogError
        A file is part of both logs, or the first log lies after the second.
    NotEnoughError
        Fewer than 3 tested runs in either.
    """
    import pandas as pd

    first, second = before.runs, after.runs
    _refuse_mixed_up(before, after)
    periods = Periods(
        before.process,
        ("in the earlier log", "in the later log"),
        np.repeat([False, True], [len(first), len(second)]),
        np.concatenate([first.tested, second.tested]),
        {
            family: np.concatenate([first.failed[family], second.failed[family]])
            for family in first.failed
        },
        np.concatenate([first.operator, second.operator]).astype(str),
        np.concatenate([first.week, second.week + first.week.max(initial=0) + 1]),
        pd.concat([first.numbers, second.numbers], ignore_index=True),
    )
    return _enough(periods)


def _refuse_mixed_up(before: RunLog, after: RunLog) -> None:
    """Refuse two logs that share a file, or of which the earlier one came later."""
    known = {one.sha256 for one in before.inputs}
    twice = next((one.file for one in after.inputs if one.sha256 in known), None)
    if twice is not None:
        msg = f"{twice}: is part of both logs, which cannot be compared then; name it once."
        raise LogError(msg)
    days = [one.runs.started_at[~np.isnat(one.runs.started_at)] for one in (before, after)]
    if all(map(len, days)) and days[0].min() > days[1].max():
        begins, ends = (str(day)[:10] for day in (days[0].min(), days[1].max()))
        msg = (
            f"The log that is to be the earlier one begins on {begins}, after the other has ended "
            f"on {ends}; exchange the two."
        )
        raise LogError(msg)


def _split(
    log: RunLog,
    after: NDArray[np.bool_],
    kept: NDArray[np.intp],
    names: tuple[str, str],
    undated: int,
) -> Periods:
    runs: RunTable = log.runs
    week = runs.week[kept]
    periods = Periods(
        log.process,
        names,
        after,
        runs.tested[kept],
        {family: counts[kept] for family, counts in runs.failed.items()},
        runs.operator[kept].astype(str),
        np.where(after, week + week.max(initial=0) + 1, week),
        runs.numbers.iloc[kept].reset_index(drop=True),
        undated,
    )
    return _enough(periods)


def _enough(periods: Periods) -> Periods:
    """Return the periods unless one of them is too short to be compared."""
    known = periods.tested > 0
    for name, inside in zip(periods.names, (~periods.after, periods.after), strict=True):
        runs = int((known & inside).sum())
        if runs < FEWEST_RUNS:
            msg = (
                f"Only {counted(runs, 'tested run')} {name}: a comparison needs at least "
                f"{FEWEST_RUNS} on each side. Log more runs, or name another date."
            )
            raise NotEnoughError(msg)
    return periods
