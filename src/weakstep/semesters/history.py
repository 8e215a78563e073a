"""RunLog and list of changes -> History."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.words import counted
from weakstep.semesters.model import ChangeOutcome, History, Semester
from weakstep.semesters.telling import tell_semesters
from weakstep.semesters.trend import family_trend
from weakstep.semesters.words import change_sentence, day_words
from weakstep.trials.comparing import ALL, compare
from weakstep.trials.periods import FEWEST_RUNS, split_at_date

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from weakstep.process.model import Process
    from weakstep.runlog.model import RunLog
    from weakstep.semesters.model import Change, FamilyTrend
    from weakstep.semesters.telling import Told
    from weakstep.trials.comparing import Comparison

    Days = NDArray[np.datetime64]
    Inside = NDArray[np.bool_]


_UNKNOWN = -1  # semester of a run that nothing tells


def history_of(log: RunLog, changes: Sequence[Change] = (), *, seed: int = 0) -> History | None:
    """
    Tell a log's history: failures by semester, and what came of each change.

    Parameters
    ----------
    log : RunLog
    changes : sequence of Change
        From `weakstep.semesters.listing.read_changes`, in order of time.
    seed : int
        Of re-orderings and draws.

    Returns
    -------
    History or None
        None when the log holds one semester and nothing is said to have been changed.
    """
    told = tell_semesters(log)
    several = len(told.names) > 1
    if not several and not changes:
        return None
    return History(
        semesters=tuple(_semester(log, told, place) for place in range(len(told.names))),
        told_by=told.by,
        semester_of=told.of_run,
        trends=_trends(log, told, seed) if several else (),
        changes=tuple(_outcome(log, change, changes, told.of_run, seed) for change in changes),
    )


def _semester(log: RunLog, told: Told, place: int) -> Semester:
    runs = log.runs
    inside = told.of_run == place
    days = runs.started_at[inside].astype("datetime64[D]")
    days = days[~np.isnat(days)]
    never = np.datetime64("NaT", "D")
    return Semester(
        name=told.names[place],
        first=days.min() if len(days) else never,
        last=days.max() if len(days) else never,
        runs=int((inside & (runs.tested > 0)).sum()),
        tested=int(runs.tested[inside].sum()),
        failed={family: int(counts[inside].sum()) for family, counts in runs.failed.items()},
    )


def _trends(log: RunLog, told: Told, seed: int) -> tuple[FamilyTrend, ...]:
    runs = log.runs
    used = (told.of_run >= 0) & (runs.tested > 0)
    if len(np.unique(told.of_run[used])) < 2:
        return ()
    failed = {name: counts[used] for name, counts in runs.failed.items() if counts[used].any()}
    every = np.asarray(sum(failed.values(), start=0 * runs.tested[used]))
    families = {ALL: every} | (failed if len(failed) > 1 else {})
    return tuple(
        family_trend(
            name,
            counts,
            runs.tested[used],
            told.of_run[used],
            runs.operator[used].astype(str),
            count=len(told.names),
            seed=seed,
        )
        for name, counts in families.items()
    )


def _outcome(
    log: RunLog,
    change: Change,
    changes: Sequence[Change],
    semester_of: NDArray[np.int_],
    seed: int,
) -> ChangeOutcome:
    """Compare the runs since the change before with those until the next one in its step."""
    days = log.runs.started_at.astype("datetime64[D]")
    inside = _around(log, days, change, changes)
    found, why_not = _compared(log, change, days, inside, seed)
    used = inside & (log.runs.tested > 0)
    compared = days[used]
    before, since = compared[compared < change.date], compared[compared >= change.date]
    others = [other for other in changes if other is not change]
    outcome = ChangeOutcome(
        change,
        found,
        (before.min(), before.max(), since.min(), since.max()) if found else None,
        why_not,
        tuple(other.what for other in others if other.date == change.date),
        tuple(
            other
            for other in others
            if found and before.min() < other.date <= since.max() and other.date != change.date
        ),
        "",
        len(set(semester_of[used].tolist()) - {_UNKNOWN}) if found else 0,
    )
    return replace(outcome, sentence=change_sentence(outcome, log.process))


def _around(log: RunLog, days: Days, change: Change, changes: Sequence[Change]) -> Inside:
    """
    Return the runs that a change is judged by.

    They begin with the last change before it, whose effect would be taken for its own, whatever
    step that was in; where too few runs lie between, with the last one in its own step. They end
    before the next change in its own step: what was changed stays changed, and a later change
    elsewhere is told beside.
    """
    own = [other for other in changes if _may_concern(other, change, log.process)]
    end = min((other.date for other in own if other.date > change.date), default=None)
    inside = ~np.isnat(days) if end is None else days < end

    def back_to(some: Sequence[Change]) -> Inside:
        begin = max((one.date for one in some if one.date < change.date), default=None)
        return inside if begin is None else inside & (days >= begin)

    near, far = back_to(changes), back_to(own)
    tested_before = (log.runs.tested > 0) & (days < change.date)
    return near if (near & tested_before).sum() >= FEWEST_RUNS else far


def _may_concern(other: Change, change: Change, process: Process) -> bool:
    """Whether two changes are, or for all the list says may be, in one step."""
    steps = [
        process.parameter(one.column).step if one.column is not None else one.step
        for one in (other, change)
    ]
    return steps[0] == steps[1] or None in steps


def _compared(
    log: RunLog, change: Change, days: Days, inside: Inside, seed: int
) -> tuple[Comparison | None, str]:
    """Compare before with since, or say why that cannot be done."""
    known = days[~np.isnat(days)]
    if not len(known):
        return None, "no run of the log has a date"
    if change.date > known.max():
        return None, f"the log ends on {day_words(known.max())}, before it"
    if change.date <= known.min():
        return None, f"the log begins on {day_words(known.min())}, when it was made already"
    tested = inside & (log.runs.tested > 0)
    for side, where in (
        (days < change.date, "before it, back to the change before"),
        (days >= change.date, "since it, up to the next change that may be in its step"),
    ):
        runs = int((tested & side).sum())
        if runs < FEWEST_RUNS:
            return None, (
                f"only {counted(runs, 'tested run')} {where}; at least {FEWEST_RUNS} are needed"
            )
    periods = split_at_date(
        replace(log, runs=log.runs.only(inside)), change.date.astype("datetime64[us]").item()
    )
    column = change.column if change.column in log.runs.numbers.columns else None
    periods = replace(periods, names=("before", "since"))
    return compare(periods, column=column, window=change.window, seed=seed), ""
