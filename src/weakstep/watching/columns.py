"""The baseline of each parameter: scale, scores, memory and limits."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from weakstep.watching.baseline import WatchedColumn
from weakstep.watching.following import stable_values
from weakstep.watching.limits import evidence_limit, share_of
from weakstep.watching.memory import MEMORIES, memories, memory_logs
from weakstep.watching.scores import baseline_scores, steady_scores
from weakstep.watching.union import union_factor

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_LOOKS_NORMAL = 0.15
_LEAST = 1e-9  # chance of a memory that cannot be ruled out
_UNEVEN = 1.5  # standard errors of normal values' skewness and excess kurtosis


def watched_columns(
    baselines: list[tuple[bool, Floats]], semester: int, chance: float
) -> list[WatchedColumn]:
    """
    Choose scale and scores of each parameter, allow for memory, solve the limits.

    Parameters
    ----------
    baselines : list of (log scale preferred, values)
        Values of all runs in time order, NaN for gaps; at least 8 each, of them 4 different ones.
    semester : int
        Runs.
    chance : float
        Of a false alarm of any parameter within them.

    Returns
    -------
    list of WatchedColumn
    """
    rows = [values[~np.isnan(values)] for _, values in baselines]
    scales = [
        _scale(row, log_first=log_first)
        for (log_first, _), row in zip(baselines, rows, strict=True)
    ]
    bases = [np.log(row) if on_log else row for row, (on_log, _) in zip(rows, scales, strict=True)]
    fits = [
        memory_logs(steady_scores(base, base, normal=normal), len(base))[0]
        for base, (_, normal) in zip(bases, scales, strict=True)
    ]
    kept = np.maximum(memories(np.reshape(fits, (-1, len(MEMORIES)))), _LEAST)
    alone = share_of(chance, 1.0, len(rows))
    limit = evidence_limit(semester, alone)
    columns = []
    for row, base, (on_log, normal), chances in zip(rows, bases, scales, kept, strict=True):
        middle, step = _rounding(base)
        columns.append(
            WatchedColumn(
                tuple(map(float, row)),
                on_log,
                normal,
                tuple(map(float, chances)),
                middle,
                0.0 if normal else step,
                limit,
            )
        )
    scores = score_table(columns, [values for _, values in baselines])
    factor = union_factor(scores, limit, runs=semester)
    limit = evidence_limit(semester, alone / factor)
    return [replace(column, limit=limit) for column in columns]


def score_table(columns: list[WatchedColumn], rows: list[Floats]) -> Floats:
    """
    Score the baseline among itself.

    Parameters
    ----------
    columns : list of WatchedColumn
    rows : list of array, shape (n_runs,)
        Their values of all runs, NaN for gaps.

    Returns
    -------
    array, shape (n_runs, n_columns)
        NaN for gaps and for the first value of each, whose memory nobody knows.
    """
    table = np.full((len(rows[0]) if rows else 0, len(columns)), np.nan)
    for place, (column, values) in enumerate(zip(columns, rows, strict=True)):
        logged = np.flatnonzero(~np.isnan(values))
        table[logged[1:], place] = baseline_scores(stable_values(column), normal=column.normal)
    return table


def _scale(values: Floats, *, log_first: bool) -> tuple[bool, bool]:
    """Tell whether logarithms look more normal than values, and whether the better ones do."""
    from weakstep.charts.normality import anderson_darling

    plain = anderson_darling(values).p
    on_log = False
    # Of numbers as large as 1e15 that differ by 1, logarithms do not.
    if values.min() > 0.0 and np.ptp(np.log(values)) > 0.0:
        logs = anderson_darling(np.log(values)).p
        on_log = logs >= _LOOKS_NORMAL if log_first else plain < _LOOKS_NORMAL and logs > plain
        plain = logs if on_log else plain
    chosen = np.log(values) if on_log else values
    return on_log, plain >= _LOOKS_NORMAL and _even_tails(chosen)


def _even_tails(values: Floats) -> bool:
    """
    Whether neither skewness nor excess kurtosis is beyond what normal values show by chance.

    Both are told by tails, of which the limits ask most and the test of the whole law least.
    """
    off = (values - values.mean()) / values.std()
    error = np.sqrt(6.0 / len(values))
    skewness, excess = (off**3).mean(), (off**4).mean() - 3.0
    return bool(abs(skewness) <= _UNEVEN * error and excess <= _UNEVEN * 2.0 * error)


def _rounding(values: Floats) -> tuple[float, float]:
    """Return the middle value, and what values are rounded to when half of them or more repeat."""
    apart = np.unique(values)
    middle = float(np.sort(values)[len(values) // 2])
    if len(apart) > len(values) / 2.0:
        return middle, 0.0
    return middle, float(np.median(np.diff(apart)))
