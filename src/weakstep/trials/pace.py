"""How many runs a block of a trial holds: as many as the lab makes in a day, or in a week."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from weakstep.runlog.model import RunLog

DAY, WEEK = "day", "week"
_FEWEST = 4  # runs of a block; where days hold fewer, weeks are blocks


@dataclass(frozen=True)
class Pace:
    """
    What a block is, and the runs that fit into one.

    Attributes
    ----------
    block_by : str
        "day", "week", "operator" ...
    runs : int
        At most.
    a_day : float or None
        Runs the lab makes on a day with runs; None when the log has no dates.
    """

    block_by: str
    runs: int
    a_day: float | None


def pace_of(log: RunLog, *, runs_per_day: int | None = None, block_by: str | None = None) -> Pace:
    """
    Choose blocks that are few and large.

    Parameters
    ----------
    log : RunLog
        Its days with runs tell how many runs a day and a week the lab makes.
    runs_per_day : int, optional
        Instead of what the log shows; a block is then a day.
    block_by : str, optional
        What a block is; left out, a day where the lab makes at least four runs a day, else a week.

    Returns
    -------
    Pace
        A day holds the upper quartile of the runs of the log's days, a week the median of its
        weeks; four runs without dates.
    """
    known = log.runs.started_at[~np.isnat(log.runs.started_at)]
    if not len(known):
        a_day, a_week = None, _FEWEST
    else:
        _, in_days = np.unique(known.astype("datetime64[D]"), return_counts=True)
        in_weeks = np.bincount(log.runs.week)
        a_day = float(np.quantile(in_days, 0.75))
        a_week = int(np.median(in_weeks[in_weeks > 0]))
    if runs_per_day is not None:
        return Pace(block_by or DAY, runs_per_day, float(runs_per_day))
    day = _FEWEST if a_day is None else int(a_day)
    if block_by is None:
        block_by = DAY if day >= _FEWEST or a_week < _FEWEST else WEEK
    return Pace(block_by, a_week if block_by == WEEK else max(day, _FEWEST), a_day)
