"""A review -> the baseline that new runs are watched against."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.watching.baseline import (
    Baseline,
    WatchedColumn,
    WatchedFailures,
    WatchedJoint,
    hashed,
)
from weakstep.watching.columns import score_table, watched_columns
from weakstep.watching.failing import failure_sums
from weakstep.watching.limits import FOR_COLUMNS, FOR_FAILURES, FOR_JOINT, share_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from weakstep.process.model import Parameter
    from weakstep.reviewing import Review
    from weakstep.runlog.model import RunTable

    Floats = NDArray[np.float64]

CHANCE = 0.05
LEAST_VALUES = 25
_FEWEST_FAILED = 3
LOGGED_MOSTLY = 0.9
_VALUES_A_VARIABLE = 5
_MOST_ALIKE = 20.0  # variance inflation, from which on a column tells what others do


def run_keys(runs: RunTable) -> list[tuple[str, str]]:
    """Return run and moment of each run: run numbers alone may begin anew each semester."""
    moments = np.datetime_as_string(runs.started_at, unit="s")
    return [(str(name), str(when)) for name, when in zip(runs.run_id, moments, strict=True)]


def freeze(review: Review, *, chance: float = CHANCE) -> Baseline:
    """
    Freeze a review as a baseline.

    Parameters
    ----------
    review : Review
    chance : float, default 0.05
        Of any false alarm in a semester of as many runs: 0.78 of it for the parameters, 0.2 for the
        failures of all families and 0.02 for the parameters' joint distance.

    Returns
    -------
    Baseline
    """
    log = review.log
    semester = max(2, len(log.runs))
    columns, not_watched = _columns(review, semester, chance)
    first = review.failures.factors[0] if review.failures.factors else None
    window = None
    if review.failures.verdict.column is not None and first is not None and first.window:
        window = (first.column, first.window.lower, first.window.upper)
    return hashed(
        Baseline(
            process=log.process.name,
            process_sha256=log.process.sha256,
            inputs=tuple((one.file, one.sha256) for one in log.inputs),
            runs=tuple(run_keys(log.runs)),
            semester=semester,
            chance=chance,
            columns=columns,
            failures=watched_failures(log.runs, semester, chance),
            joint=_joint(log.runs, columns, share_of(chance, FOR_JOINT, semester)),
            not_watched=not_watched,
            window=window,
            sha256="",
        )
    )


def _columns(
    review: Review, semester: int, chance: float
) -> tuple[dict[str, WatchedColumn], dict[str, str]]:
    watched: dict[str, tuple[bool, Floats]] = {}
    left_out: dict[str, str] = {}
    for name in review.log.runs.numbers.columns:
        parameter = review.log.process.parameter(name)
        values = review.log.runs.numbers[name].to_numpy(dtype=float)
        reason = _why_not(parameter, values[~np.isnan(values)])
        if reason:
            left_out[str(name)] = reason
        else:
            watched[str(name)] = (parameter.scale == "log", values)
    columns = watched_columns(list(watched.values()), semester, chance * FOR_COLUMNS)
    return dict(zip(watched, columns, strict=True)), left_out


def _why_not(parameter: Parameter, values: Floats) -> str:
    if parameter.role == "counter":
        return "it counts up by design"
    if parameter.kind == "yes_no":
        return "it is yes or no"
    if len(values) < LEAST_VALUES:
        logged = "only 1 value is" if len(values) == 1 else f"only {len(values)} values are"
        return f"{logged} logged; at least {LEAST_VALUES} are needed"
    if len(np.unique(values)) < 4:
        return "it has fewer than four different values"
    return ""


def watched_failures(runs: RunTable, semester: int, chance: float) -> tuple[WatchedFailures, ...]:
    """
    Chart each family with enough failures, and the others together; none where all chips failed.

    Parameters
    ----------
    runs : RunTable
    semester : int
        Runs.
    chance : float
        Of any false alarm of the whole watch; failures take 0.2 of it.

    Returns
    -------
    tuple of WatchedFailures
        The sums of each chart, one after the other.
    """
    if not runs.tested.sum():
        return ()
    own = [name for name, lost in runs.failed.items() if lost.sum() >= _FEWEST_FAILED]
    rare = tuple(name for name in runs.failed if name not in own)
    groups = [(name,) for name in own] + ([rare] if rare else [])
    each = share_of(chance, FOR_FAILURES, len(groups))
    found = []
    for families in groups:
        failed = np.minimum(sum(runs.failed[name] for name in families), runs.tested)
        if (failed == runs.tested).all():  # nothing is left that could rise
            continue
        found += [
            WatchedFailures(
                families,
                int(failed.sum()),
                int(runs.tested.sum()),
                charted.for_failed,
                charted.for_good,
                charted.limit,
            )
            for charted in failure_sums(failed, runs.tested, runs=semester, chance=each)
        ]
    return tuple(found)


def _joint(runs: RunTable, columns: dict[str, WatchedColumn], chance: float) -> WatchedJoint | None:
    names = [
        name for name, column in columns.items() if len(column.values) >= LOGGED_MOSTLY * len(runs)
    ]
    if len(names) < 2:
        return None
    rows = [runs.numbers[name].to_numpy(dtype=float) for name in names]
    return watched_joint(names, score_table([columns[name] for name in names], rows), chance)


def watched_joint(names: list[str], scores: Floats, chance: float) -> WatchedJoint | None:
    """
    Choose the columns that are watched together, as far as complete runs allow.

    A column that repeats what others tell is left out: it is watched alone, too.

    Parameters
    ----------
    names : list of str
    scores : array, shape (n_runs, n_columns)
        Of the baseline, NaN for gaps.
    chance : float
        Of a false alarm a run.

    Returns
    -------
    WatchedJoint or None
    """
    kept: list[int] = []
    covariance, points = np.zeros((0, 0)), 0
    for place in range(len(names)):
        table = scores[:, [*kept, place]]
        table = table[~np.isnan(table).any(axis=1)]
        if len(table) < _VALUES_A_VARIABLE * (len(kept) + 1):
            continue
        together = np.atleast_2d(np.cov(table, rowvar=False))
        if not _apart(together):
            continue
        kept.append(place)
        covariance, points = together, len(table)
    if len(kept) < 2:
        return None
    rows = tuple(tuple(map(float, row)) for row in covariance)
    return WatchedJoint(tuple(names[place] for place in kept), rows, points, chance)


def _apart(covariance: Floats) -> bool:
    """Whether no column is nearly a sum of the others."""
    spread = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(spread, spread)
    if np.linalg.cond(correlation) > 1e10:
        return False
    return bool(np.diag(np.linalg.inv(correlation)).max() <= _MOST_ALIKE)
