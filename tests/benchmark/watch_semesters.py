"""Semesters that watching is measured on: baselines and the runs behind them, many at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from weakstep.runlog.model import RunTable
from weakstep.trials.power import nested_failures
from weakstep.watching.baseline import WatchedColumn, WatchedFailures
from weakstep.watching.columns import watched_columns
from weakstep.watching.freezing import watched_failures, watched_joint
from weakstep.watching.joint import joint_distances, joint_limit
from weakstep.watching.limits import FOR_COLUMNS, FOR_JOINT, share_of
from weakstep.watching.scores import (
    baseline_scores,
    cut,
    sequential_scores,
    stretch_of,
    without_memory,
)
from weakstep.watching.sums import column_sums, sums_of

RUNS, PARAMETERS, CHANCE = 110, 20, 0.05
KINDS = ("normal", "skewed", "gamma", "rounded", "heavy tails", "correlated", "memory 0.3", "mixed")
RATES = {"bond": 0.10, "port": 0.04, "cure": 0.01}  # of failure; the last is charted with others
CORRELATION = 0.2  # of chips of one run
_COLUMNS_AT_ONCE = 400  # fit a processor's cache


def drawn(rng: np.random.Generator, kind: str, values: int, semesters: int) -> np.ndarray:
    """Return stable values, shape (values, semesters, PARAMETERS)."""
    z = rng.standard_normal((values, semesters, PARAMETERS))
    if kind == "correlated":  # each pair at 0.5
        return np.sqrt(0.5) * (z + rng.standard_normal((values, semesters, 1)))
    if kind == "skewed":
        return np.exp(0.8 * z)
    if kind == "gamma":
        return rng.gamma(2.0, size=z.shape)
    if kind == "rounded":  # to half a standard deviation
        return np.round(2.0 * z) / 2.0
    if kind == "heavy tails":
        return rng.standard_t(3, size=z.shape)
    memory = np.zeros(PARAMETERS)
    if kind == "memory 0.3":
        memory[:] = 0.3
    elif kind == "mixed":  # memory 0 in twelve parameters, 0.3 in five, 0.6 in three
        memory[:8] = [0.3] * 5 + [0.6] * 3
    for place in range(1, values if memory.any() else 0):
        z[place] = memory * z[place - 1] + np.sqrt(1.0 - memory**2) * z[place]
    return z


@dataclass(frozen=True, eq=False)
class Scored:
    """
    Many parameters, scored as watching does.

    Attributes
    ----------
    columns : list of WatchedColumn
    within : array, shape (n_baseline - 1, n_columns)
        Scores of the baseline among itself.
    coming : array, shape (n_runs, n_columns)
        Sequential scores of the new runs.
    sums : array of bool, shape (n_runs, n_columns)
        Whether any of the five sums is above its limit.
    """

    columns: list[WatchedColumn]
    within: np.ndarray
    coming: np.ndarray
    sums: np.ndarray


def scored(values: np.ndarray, before: int, *, ranks_only: bool = False) -> Scored:
    """Freeze and score values of shape (n_values, n_semesters, PARAMETERS), as `watch` does."""
    columns = [
        column
        for one in range(values.shape[1])
        for column in watched_columns(
            [(False, v) for v in values[:before, one].T.copy()], RUNS, CHANCE * FOR_COLUMNS
        )
    ]
    table = values.reshape(len(values), -1).copy()
    logs = np.array([column.on_log for column in columns])
    table[:, logs] = np.log(table[:, logs])
    memory = np.array([column.memory for column in columns])
    middle = np.array([column.middle for column in columns])
    step = np.array([column.step for column in columns])
    freed = without_memory(table[1:], memory, table[0], middle=middle, step=step)
    within = np.empty((before - 1, len(columns)))
    coming = np.empty((len(values) - before, len(columns)))
    over = np.zeros(coming.shape, dtype=bool)
    limits = np.array([(c.slow, c.slow, c.fast, c.fast, c.spread) for c in columns]).T
    normal = np.array([column.normal and not ranks_only for column in columns])
    for way in (True, False):
        places = np.flatnonzero(normal == way)
        for start in range(0, len(places), _COLUMNS_AT_ONCE):
            some = places[start : start + _COLUMNS_AT_ONCE]
            known, new = freed[: before - 1, some], freed[before - 1 :, some]
            within[:, some] = baseline_scores(known, normal=way)
            coming[:, some] = sequential_scores(known, new, normal=way)
            sums = column_sums(
                cut(coming[:, some], len(known), normal=way),
                len(known),
                stretch_of(known, normal=way),
            )
            over[:, some] = (sums > limits[:, some]).any(axis=1)
    return Scored(columns, within, coming, over)


def joint_alarms(found: Scored, before: int, semesters: int) -> np.ndarray:
    """Tell of each semester whether its joint distance signals."""
    names = [f"p{place}" for place in range(PARAMETERS)]
    chance = share_of(CHANCE, FOR_JOINT, RUNS)
    alarms = np.zeros(semesters, dtype=bool)
    for one in range(semesters):
        some = slice(one * PARAMETERS, (one + 1) * PARAMETERS)
        joint = watched_joint(names, found.within[:, some], chance)
        if joint is None:
            continue
        kept = [names.index(name) for name in joint.columns]
        distance = joint_distances(found.coming[:, some][:, kept], joint)[0]
        alarms[one] = bool((distance > joint_limit(joint)).any())
    return alarms


def _failures(rng: np.random.Generator, chips: np.ndarray) -> dict[str, np.ndarray]:
    failed = {}
    for family, rate in RATES.items():
        lost = np.zeros(chips.shape, dtype=int)
        for size in range(1, 5):
            some = chips == size
            lost[some] = nested_failures(rng, rate, size, CORRELATION, (int(some.sum()),))
        failed[family] = lost
    return failed


def failure_baselines(before: int, count: int, seed: int) -> list[tuple[WatchedFailures, ...]]:
    """Freeze the failure charts of so many baselines, runs of 1 to 4 chips."""
    rng = np.random.default_rng(seed)
    found = []
    for _ in range(count):
        chips = rng.integers(1, 5, before)
        empty = np.full(before, "")
        table = RunTable(
            empty,
            empty,
            empty,
            empty,
            empty,
            empty,
            chips,
            _failures(rng, chips),  # type: ignore[arg-type]
        )
        found.append(watched_failures(table, RUNS, CHANCE))
    return found


def failure_alarms(
    rng: np.random.Generator, charts: list[tuple[WatchedFailures, ...]], semesters: int
) -> np.ndarray:
    """Tell of each semester whether a failure chart signals; baselines are taken in turn."""
    quiet = np.zeros(RUNS, dtype=bool)
    alarms = np.zeros(semesters, dtype=bool)
    for one in range(semesters):
        chips = rng.integers(1, 5, RUNS)
        failed = _failures(rng, chips)
        for chart in charts[one % len(charts)]:
            lost = np.minimum(sum(failed[name] for name in chart.families), chips)
            steps = lost * chart.for_failed - (chips - lost) * chart.for_good
            alarms[one] |= bool(sums_of(steps, chart.limit, quiet))
    return alarms
