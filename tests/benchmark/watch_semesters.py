"""Semesters that watching is measured on: baselines and the runs behind them, many at once."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np

from weakstep.runlog.model import RunTable
from weakstep.trials.power import nested_failures
from weakstep.watching.baseline import WatchedColumn, WatchedFailures
from weakstep.watching.columns import watched_columns
from weakstep.watching.evidence import evidence, tilt_costs
from weakstep.watching.freezing import watched_failures, watched_joint
from weakstep.watching.joint import joint_distances, joint_limit
from weakstep.watching.limits import FOR_COLUMNS, FOR_JOINT, share_of
from weakstep.watching.memory import MEMORIES, likely, memory_logs, shares_of
from weakstep.watching.scores import (
    baseline_scores,
    cut,
    sequential_scores,
    steady_scores,
    without_memory,
)
from weakstep.watching.sums import sums_of

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
        Sequential scores of the new runs, freed of the likeliest memory.
    over : array of bool, shape (n_runs, n_columns)
        Whether the evidence that it moved is above its limit.
    """

    columns: list[WatchedColumn]
    within: np.ndarray
    coming: np.ndarray
    over: np.ndarray


def scored(values: np.ndarray, before: int, *, ranks_only: bool = False) -> Scored:
    """Freeze and score values of shape (n_values, n_semesters, PARAMETERS), as `watch` does."""
    columns = [
        replace(column, normal=column.normal and not ranks_only)
        for one in range(values.shape[1])
        for column in watched_columns(
            [(False, v) for v in values[:before, one].T.copy()], RUNS, CHANCE * FOR_COLUMNS
        )
    ]
    table = values.reshape(len(values), -1).copy()
    logs = np.array([column.on_log for column in columns])
    table[:, logs] = np.log(table[:, logs])
    normal = np.array([column.normal for column in columns])
    beforehand = np.array([column.memories for column in columns]).T
    chances = _memory_chances(table, before, columns)
    sums = np.zeros((len(values) - before, len(columns)))
    within = np.empty((before - 1, len(columns)))
    coming = np.empty(sums.shape)
    for memory, way in itertools.product(range(len(MEMORIES)), (True, False)):
        places = np.flatnonzero((normal == way) & likely(beforehand)[memory])
        for start in range(0, len(places), _COLUMNS_AT_ONCE):
            some = places[start : start + _COLUMNS_AT_ONCE]
            freed = without_memory(
                table[1:, some],
                np.full(len(some), MEMORIES[memory]),
                table[0, some],
                middle=np.array([columns[place].middle for place in some]),
                step=np.array([columns[place].step for place in some]),
            )
            known, new = freed[: before - 1], freed[before - 1 :]
            scores = sequential_scores(known, new, normal=way)
            counted = cut(scores, len(known), normal=way)
            found = evidence(counted, len(known), tilt_costs(known, normal=way)).sum(axis=1)
            sums[:, some] += chances[:, memory, some] * found
            own = beforehand[:, some].argmax(axis=0) == memory
            within[:, some[own]] = baseline_scores(known[:, own], normal=way)
            coming[:, some[own]] = scores[:, own]
    return Scored(columns, within, coming, sums > np.array([column.limit for column in columns]))


def _memory_chances(table: np.ndarray, before: int, columns: list[WatchedColumn]) -> np.ndarray:
    """How likely each memory is after each new run, shape (n_runs, n_memories, n_columns)."""
    steady = np.stack(
        [
            steady_scores(row[:before], row, normal=column.normal)
            for row, column in zip(table.T, columns, strict=True)
        ],
        axis=1,
    )
    logs = memory_logs(steady, before)
    chances = np.array([column.memories for column in columns]).T
    beforehand = np.where(likely(chances), np.log(chances), -np.inf) - logs[0]
    return shares_of(beforehand + logs[1:])


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
