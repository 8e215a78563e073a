"""
RunLog -> Review: the one place that knows the order of the job.

The module is not called `review`, because importing a submodule of that name would hide the
public function `weakstep.review` behind the module.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from weakstep.errors import NotEnoughError

if TYPE_CHECKING:
    import numpy as np

    from weakstep.charting import OwnLimits
    from weakstep.charts.model import Chart
    from weakstep.charts.tolerance import Tolerance
    from weakstep.drift.model import DriftScreen
    from weakstep.drift.nearby import Nearby
    from weakstep.failures.model import FailureAnalysis
    from weakstep.failures.shifts import Consequence
    from weakstep.runlog.model import RunLog, RunTable
    from weakstep.semesters.model import Change, Event, History
    from weakstep.trials.sizes import NextTrial

RUNS_PER_POINT = 10  # of the failure chart, when its points are not weeks
CHIPS_PER_WEEK = 8  # below it, the limits of a weekly point say next to nothing
FEWEST_EXPECTED = 5  # failures a point; below it most points lie on one side (Cochran 1954)


@dataclass(frozen=True, eq=False)
class FailureChart:
    """
    Failures in time: a p chart with one point per week, or per group of runs without dates.

    Attributes
    ----------
    labels : tuple of str
        What each point is ("2026-03-02" for the week that begins then, or "runs 1-10").
    tested, failed : array of int, shape (n_points,)
    chart : Chart
    """

    labels: tuple[str, ...]
    tested: np.ndarray
    failed: np.ndarray
    chart: Chart


@dataclass(frozen=True, eq=False)
class Review:
    """
    The whole job's result; build it with `weakstep.review`.

    Attributes
    ----------
    log : RunLog
    charts : mapping of column to (individuals Chart, moving-range Chart)
        Number parameters that vary, one point per run; with new limits after each service where
        the level differs between services.
    not_charted : mapping of column to str
        Why a number or yes/no parameter has no chart, a sentence each.
    failure_chart : FailureChart or None
    drifts : DriftScreen
    failures : FailureAnalysis
    next_trial : NextTrial or None
    seed : int
        Makes the permutations repeatable.
    made_at : str or None
        ISO time, given by the caller; None keeps the output free of clocks.
    version : str
        Of weakstep.
    command : str or None
        The command line that makes this review again.
    worth_checking : mapping of column to tuple of Nearby
        Services, new lots, moulds and operators near the start of each drift, nearest first:
        worth checking, never the cause.
    matters : mapping of column to tuple of Consequence
        For each step or ramp: the change in expected failures that goes with it, since its (first)
        start and against the level before, per family for which the parameter is no acquitted
        factor; a drift without an entry is not known to matter.
    events : tuple of Event
        What charts mark: services, changes made by the lab, the begin of each semester.
    history : History or None
        Failures by semester and what came of each change; None with one semester and no change.
    own_limits : mapping of column to OwnLimits
        Parameters whose level differs between services, operators, moulds or machines.
    tolerances : mapping of column to Tolerance
        Parameters whose description gives a tolerance.
    """

    log: RunLog
    charts: Mapping[str, tuple[Chart, Chart]]
    not_charted: Mapping[str, str]
    failure_chart: FailureChart | None
    drifts: DriftScreen
    failures: FailureAnalysis
    next_trial: NextTrial | None
    seed: int
    made_at: str | None
    version: str
    command: str | None = None
    worth_checking: Mapping[str, tuple[Nearby, ...]] = field(default_factory=dict)
    matters: Mapping[str, tuple[Consequence, ...]] = field(default_factory=dict)
    events: tuple[Event, ...] = ()
    history: History | None = None
    own_limits: Mapping[str, OwnLimits] = field(default_factory=dict)
    tolerances: Mapping[str, Tolerance] = field(default_factory=dict)


def review(
    log: RunLog,
    *,
    seed: int = 0,
    permutations: int = 1999,
    made_at: str | None = None,
    command: str | None = None,
    changes: Sequence[Change] = (),
    progress: Callable[[str], None] | None = None,
) -> Review:
    """
    Do the whole job on a checked log: charts, drift screen, failure analysis, next trial.

    Parameters
    ----------
    log : RunLog
        From `weakstep.read_log`.
    seed : int, default 0
        Seed of every permutation and draw; the same log and seed give the same review.
    permutations : int, default 1999
        Permutations behind the family-wise p of the factors; p is never below
        1 / (permutations + 1).
    made_at : str, optional
        ISO time to print on the page; left out, the review is free of clocks.
    command : str, optional
        The command line that makes this review again.
    changes : sequence of Change
        What the lab changed, from `weakstep.semesters.listing.read_changes`.
    progress : callable, optional
        Called with a phrase before each stage.

    Returns
    -------
    Review

    Raises
    ------
    NotEnoughError
        Not a single row of the log can be used.
    """
    from weakstep import __version__, charting
    from weakstep.failures.analysis import analyse
    from weakstep.semesters.events import events_of
    from weakstep.semesters.history import history_of
    from weakstep.trials.sizes import next_trial

    require_runs(log)
    tell = progress or (lambda _phrase: None)
    tell("drawing a chart for each parameter")
    together, not_charted = charting.parameter_charts(log)
    failure_chart = _failure_chart(log.runs)
    tell("looking for parameters that moved")
    drifts = _screen(log, seed)
    tell("linking failures to parameters")
    failures = analyse(log, seed=seed, permutations=permutations)
    tell("comparing semesters and changes")
    history = history_of(log, changes, seed=seed)
    services = charting.services_in(drifts)
    own = charting.own_limits(log, together, services)
    tell("planning the next trial")
    return Review(
        log=log,
        charts=charting.with_stages(together, own),
        not_charted=not_charted,
        failure_chart=failure_chart,
        drifts=drifts,
        failures=failures,
        next_trial=next_trial(log, failures),
        seed=seed,
        made_at=made_at,
        version=__version__,
        command=command,
        worth_checking=_worth_checking(log, drifts),
        matters=_matters(log, drifts, failures),
        events=events_of(log, services, history),
        history=history,
        own_limits=own,
        tolerances=charting.tolerances(log, together, drifts),
    )


def require_runs(log: RunLog) -> None:
    """Raise NotEnoughError when not a single row of the log can be used."""
    if len(log.runs) == 0:
        message = (
            f"None of the {log.rows_read} rows read can be used, so there is nothing to review; "
            "'weakstep check' lists what to mend."
        )
        raise NotEnoughError(message)


def _screen(log: RunLog, seed: int) -> DriftScreen:
    """Screen the log's numbers for drift, within operators where they are logged."""
    from weakstep.drift.screen import screen

    described = [log.process.parameter(column) for column in log.runs.numbers.columns]
    operators = log.runs.operator
    return screen(
        log.runs.numbers,
        strata=operators if len(set(operators)) > 1 else None,
        counters={parameter.name for parameter in described if parameter.role == "counter"},
        log_scale={parameter.name for parameter in described if parameter.scale == "log"},
        seed=seed,
    )


def _worth_checking(log: RunLog, drifts: DriftScreen) -> dict[str, tuple[Nearby, ...]]:
    """Find what else changed near the start of each drift."""
    from weakstep.drift.nearby import worth_checking
    from weakstep.semesters.telling import COLUMN as SEMESTER

    runs = log.runs
    categories = {
        str(column): runs.categories[column].to_numpy(dtype=str)
        for column in runs.categories.columns
        if column != SEMESTER
    }
    return worth_checking(drifts.drifts, {**categories, "operator": runs.operator.astype(str)})


def _matters(
    log: RunLog, drifts: DriftScreen, failures: FailureAnalysis
) -> dict[str, tuple[Consequence, ...]]:
    """Join each shift with the factors of its column that are not acquitted."""
    from weakstep.failures.shifts import consequence_of_shift, moved_since_the_start

    found: dict[str, tuple[Consequence, ...]] = {}
    for drift in drifts.drifts:
        if drift.form not in ("step", "ramp") or drift.evidence == "none":
            continue
        values = log.runs.numbers[drift.column].to_numpy(dtype=float)
        changes = drift.changes or (drift,)
        first = changes[0]
        shift = moved_since_the_start(
            values,
            [(change.since, change.after) for change in changes],
            first.before,
            shares=log.process.parameter(drift.column).kind == "yes_no",
            grows=drift.form == "ramp",
        )
        each = (
            consequence_of_shift(factor, values, log.runs.tested, since=first.since, shift=shift)
            for factor in failures.factors
            if factor.column == drift.column and factor.evidence != "none"
        )
        told = tuple(one for one in each if one is not None)
        if told:
            found[drift.column] = told
    return found


def _failure_chart(runs: RunTable) -> FailureChart | None:
    """Chart the share of failed chips by week; by ten runs without dates or with few a week."""
    import numpy as np

    from weakstep.charts.attributes import p_chart

    failed_in_run = np.sum(list(runs.failed.values()), axis=0) if runs.failed else 0 * runs.tested
    per_week = np.bincount(runs.week, weights=runs.tested)
    by_week = (
        np.any(runs.tested[~np.isnat(runs.started_at)])
        and float(np.median(per_week[per_week > 0])) >= CHIPS_PER_WEEK
    )
    group = runs.week if by_week else np.arange(len(runs)) // RUNS_PER_POINT
    count = int(group.max()) + 1
    tested = np.bincount(group, weights=runs.tested, minlength=count).astype(int)
    failed = np.bincount(group, weights=failed_in_run, minlength=count).astype(int)
    shown = np.flatnonzero(tested > 0)
    try:
        chart = p_chart(failed[shown], tested[shown], allow_overdispersion=True)
    except NotEnoughError:
        return None
    if float(np.median(tested[shown])) * chart.limits.centre < FEWEST_EXPECTED:
        beyond = tuple(one for one in chart.signals if one.pattern == "beyond_limit")
        chart = replace(chart, signals=beyond)
    if by_week:
        first = np.nanmin(runs.started_at).astype("datetime64[D]")
        monday = first - (first.astype(int) + 3) % 7  # 1970-01-01, day 0, was a Thursday
        labels = tuple(str(monday + 7 * int(week)) for week in shown)
    else:
        ends = np.minimum((shown + 1) * RUNS_PER_POINT, len(runs))
        starts = shown * RUNS_PER_POINT + 1
        labels = tuple(f"runs {a}-{b}" for a, b in zip(starts, ends, strict=True))
    return FailureChart(labels=labels, tested=tested[shown], failed=failed[shown], chart=chart)
