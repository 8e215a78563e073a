"""A review -> the baseline that new runs are watched against."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.enough import within_run_correlation
from weakstep.watching.baseline import (
    Baseline,
    WatchedColumn,
    WatchedFailures,
    WatchedJoint,
    hashed,
)
from weakstep.watching.limits import (
    FOR_COLUMNS,
    FOR_FAILURES,
    FOR_JOINT,
    column_limits,
    failure_limit,
    share_of,
)
from weakstep.watching.scores import memory_of

if TYPE_CHECKING:
    from weakstep.charts.multivariate import Baseline as Estimated
    from weakstep.process.model import Parameter
    from weakstep.reviewing import Review
    from weakstep.runlog.model import RunTable

CHANCE = 0.05
LEAST_VALUES = 25
_LOOKS_NORMAL = 0.05
_FEWEST_FAILED = 3
_ODDS = 2.0  # the failure sum is best for odds of failing that double
_LOGGED_MOSTLY = 0.9
_VALUES_A_VARIABLE = 5


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
        Of any false alarm in a semester of as many runs: 0.8 of it for the parameters, 0.1 each for
        failures and for the parameters' joint distance.

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
            failures=_failures(log.runs, semester, share_of(chance, FOR_FAILURES)),
            joint=_joint(log.runs, columns, share_of(chance, FOR_JOINT, semester)),
            not_watched=not_watched,
            window=window,
            sha256="",
        )
    )


def _columns(
    review: Review, semester: int, chance: float
) -> tuple[dict[str, WatchedColumn], dict[str, str]]:
    watched: dict[str, tuple[Parameter, np.ndarray]] = {}
    left_out: dict[str, str] = {}
    for name in review.log.runs.numbers.columns:
        parameter = review.log.process.parameter(name)
        values = review.log.runs.numbers[name].to_numpy(dtype=float)
        values = values[~np.isnan(values)]
        reason = _why_not(parameter, values)
        if reason:
            left_out[str(name)] = reason
        else:
            watched[str(name)] = (parameter, values)
    each = share_of(chance, FOR_COLUMNS, len(watched))
    columns = {name: _watched(*found, semester, each) for name, found in watched.items()}
    return columns, left_out


def _why_not(parameter: Parameter, values: np.ndarray) -> str:
    if parameter.role == "counter":
        return "it counts up by design"
    if parameter.kind == "yes_no":
        return "it is yes or no"
    if len(values) < LEAST_VALUES:
        return f"only {len(values)} values are logged; at least {LEAST_VALUES} are needed"
    if len(np.unique(values)) < 4:
        return "it has fewer than four different values"
    return ""


def _watched(
    parameter: Parameter, values: np.ndarray, semester: int, chance: float
) -> WatchedColumn:
    """Choose the scale on which values look normal, if any; solve the limits of their ranks."""
    from weakstep.charts.normality import anderson_darling

    scales = [True, False] if parameter.scale == "log" else [False, True]
    if values.min() <= 0.0:
        scales = [False]
    looks = [
        on_log
        for on_log in scales
        if anderson_darling(np.log(values) if on_log else values).p >= _LOOKS_NORMAL
    ]
    on_log, normal = (looks[0], True) if looks else (False, False)
    limits = column_limits(len(values), semester, chance, normal=False)
    return WatchedColumn(
        tuple(map(float, values)),
        on_log,
        normal,
        memory_of(np.log(values) if on_log else values),
        limits.slow,
        limits.fast,
        limits.spread,
    )


def _failures(runs: RunTable, semester: int, chance: float) -> WatchedFailures | None:
    failed = np.asarray(sum(runs.failed.values(), start=0 * runs.tested))
    lost, tested = int(failed.sum()), int(runs.tested.sum())
    if lost < _FEWEST_FAILED or lost == tested:
        return None
    rate = lost / tested
    odds = _ODDS * rate / (1.0 - rate)
    worse = odds / (1.0 + odds)
    weights = (float(np.log(worse / rate)), float(np.log((1.0 - worse) / (1.0 - rate))))
    correlation = within_run_correlation(failed, runs.tested)
    limit = failure_limit(failed, runs.tested, correlation, weights, runs=semester, chance=chance)
    return WatchedFailures(lost, tested, weights[0], weights[1], limit)


def _joint(runs: RunTable, columns: dict[str, WatchedColumn], chance: float) -> WatchedJoint | None:
    """Watch columns together that look normal and are mostly logged, as far as the runs allow."""
    from weakstep.charts.multivariate import baseline
    from weakstep.errors import NotEnoughError

    kept: tuple[list[str], Estimated] | None = None
    names: list[str] = []
    for name, column in columns.items():
        if not column.normal or len(column.values) < _LOGGED_MOSTLY * len(runs):
            continue
        table = joint_table(runs, [*names, name], columns)
        complete = int((~np.isnan(table).any(axis=1)).sum())
        if complete < _VALUES_A_VARIABLE * (len(names) + 1):
            continue
        try:
            found = baseline(table)
        except NotEnoughError:  # it repeats what others say
            continue
        names.append(name)
        kept = (list(names), found)
    if kept is None or len(kept[0]) < 2:
        return None
    together, found = kept
    return WatchedJoint(
        tuple(together),
        tuple(map(float, found.centre)),
        tuple(tuple(map(float, row)) for row in found.covariance),
        found.n_points,
        chance,
    )


def joint_table(runs: RunTable, names: list[str], columns: dict[str, WatchedColumn]) -> np.ndarray:
    """Return the named columns side by side, on the scale they are scored on; NaN for gaps."""
    parts = []
    for name in names:
        if name not in runs.numbers.columns:
            parts.append(np.full(len(runs), np.nan))
            continue
        values = runs.numbers[name].to_numpy(dtype=float)
        if columns[name].on_log:
            values = np.log(np.where(values > 0.0, values, np.nan))
        parts.append(values)
    return np.column_stack(parts)
