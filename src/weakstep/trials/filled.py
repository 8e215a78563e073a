"""A filled sheet beside its plan: the planned runs that have an outcome, and what does not fit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.trials.planned import FAILURES
from weakstep.trials.question import failed_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from weakstep.runlog.model import RunLog
    from weakstep.trials.planned import PlannedRun, TrialPlan

    Floats = NDArray[np.float64]
    Counts = NDArray[np.int_]

_OFF_PLAN = 0.25  # of the distance between levels; a value further away is told


@dataclass(frozen=True, eq=False)
class TrialRuns:
    """
    The planned runs that have an outcome, in the order of the plan.

    Attributes
    ----------
    coded : array, shape (n_runs, n_factors)
        Levels as planned.
    blocks : array of int, shape (n_runs,)
    failed, tested : array of int, shape (n_runs,)
        Chips; failed is 0 where the outcome is measured.
    measured : array, shape (n_runs,) or None
        Run means of a measured outcome, in its unit; None where failures are the outcome.
    """

    coded: Floats
    blocks: NDArray[np.intp]
    failed: Counts
    tested: Counts
    measured: Floats | None

    @property
    def outcome(self) -> Floats:
        """One number a run: the measured mean, or the share of its chips that failed."""
        if self.measured is not None:
            return self.measured
        return np.asarray(self.failed / self.tested, dtype=float)


@dataclass(frozen=True)
class OffPlan:
    """A run that was set otherwise than planned, in the parameter's unit."""

    run_id: str
    column: str
    planned: float
    found: float


@dataclass(frozen=True)
class Fit:
    """
    How a filled sheet fits its plan.

    Attributes
    ----------
    missing : tuple of str
        Planned runs without an outcome.
    strangers : tuple of str
        Runs of the sheet that were not planned; they are left out.
    off_plan : tuple of OffPlan
    not_written : tuple of (column, runs)
        How many runs with an outcome do not say at which level they were made.
    other_failed : tuple of (family, chips)
        Chips that failed, but not as the trial asks; they count as not failed.
    only_bounds : int
        Chips of which only a bound of the measured outcome is written ("> 300"); left out.
    unmeasured : tuple of two int
        Chips of the runs read that have no measured outcome, and how many of them failed.
    """

    missing: tuple[str, ...]
    strangers: tuple[str, ...]
    off_plan: tuple[OffPlan, ...]
    not_written: tuple[tuple[str, int], ...]
    other_failed: tuple[tuple[str, int], ...]
    only_bounds: int
    unmeasured: tuple[int, int] = (0, 0)


def match_plan(log: RunLog, plan: TrialPlan) -> tuple[TrialRuns, Fit]:
    """
    Find the planned runs in a filled sheet.

    Parameters
    ----------
    log : RunLog
        The sheet as it was read.
    plan : TrialPlan

    Returns
    -------
    tuple of (TrialRuns, Fit)
    """
    measured = _measured(log, plan)
    failed = failed_of(log, plan.outcome) if measured is None else 0 * log.runs.tested
    known = log.runs.tested > 0 if measured is None else ~np.isnan(measured)
    place_of = {str(name): place for place, name in enumerate(log.runs.run_id)}
    kept = [one for one in plan.runs if one.run_id in place_of and known[place_of[one.run_id]]]
    rows = np.array([place_of[one.run_id] for one in kept], dtype=np.intp)
    runs = TrialRuns(
        np.array([one.coded for one in kept]).reshape(len(kept), len(plan.columns)),
        np.array([one.block for one in kept], dtype=np.intp),
        failed[rows],
        log.runs.tested[rows],
        None if measured is None else measured[rows],
    )
    planned = {one.run_id for one in plan.runs}
    done = {one.run_id for one in kept}
    off_plan, not_written = _levels(log, plan, kept, rows)
    fit = Fit(
        missing=tuple(one.run_id for one in plan.runs if one.run_id not in done),
        strangers=tuple(name for name in place_of if name not in planned),
        off_plan=off_plan,
        not_written=not_written,
        other_failed=() if measured is not None else _other_failed(log, plan, rows),
        only_bounds=sum(one.parameter == plan.outcome for one in log.bounds),
        unmeasured=(0, 0) if measured is None else _unmeasured(log, plan, done),
    )
    return runs, fit


def _measured(log: RunLog, plan: TrialPlan) -> Floats | None:
    """Return the measured outcome of every run of the sheet; None where failures are asked for."""
    if plan.rates is not None:
        return None
    return _logged(log, plan.outcome)


def _logged(log: RunLog, column: str) -> Floats:
    if column not in log.runs.numbers.columns:
        return np.full(len(log.runs), np.nan)
    return np.asarray(log.runs.numbers[column], dtype=float)


def _levels(
    log: RunLog, plan: TrialPlan, kept: list[PlannedRun], rows: NDArray[np.intp]
) -> tuple[tuple[OffPlan, ...], tuple[tuple[str, int], ...]]:
    """Compare the levels that were set with those planned; count the runs that do not say."""
    off: list[OffPlan] = []
    unsaid: list[tuple[str, int]] = []
    for place, (column, values) in enumerate(zip(plan.columns, plan.levels, strict=True)):
        found = _logged(log, column)[rows]
        planned = np.array([one.settings[place] for one in kept])
        if np.isnan(found).any():
            unsaid.append((column, int(np.isnan(found).sum())))
        far = np.abs(found - planned) > _OFF_PLAN * (values[-1] - values[0])
        off += [
            OffPlan(kept[i].run_id, column, float(planned[i]), float(found[i]))
            for i in np.flatnonzero(far)
        ]
    return tuple(off), tuple(unsaid)


def _other_failed(
    log: RunLog, plan: TrialPlan, rows: NDArray[np.intp]
) -> tuple[tuple[str, int], ...]:
    if plan.outcome == FAILURES:
        return ()
    counts = {
        family: int(failed[rows].sum())
        for family, failed in log.runs.failed.items()
        if family != plan.outcome
    }
    return tuple((family, count) for family, count in counts.items() if count)


def _unmeasured(log: RunLog, plan: TrialPlan, done: set[str]) -> tuple[int, int]:
    """Count the chips of runs with an outcome that were not measured, and the failed of them."""
    if plan.outcome not in log.chips.columns:
        return 0, 0
    rows = log.chips["run"].isin(done) & log.chips[plan.outcome].isna()
    return int(log.chips.loc[rows, "made"].sum()), int(log.chips.loc[rows, "failed"].sum())
