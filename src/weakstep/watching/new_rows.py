"""Which runs of a log are new, and what a user should know of them beside the signals."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.watching.freezing import LOGGED_MOSTLY, run_keys

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from weakstep.runlog.model import Problem, RunLog
    from weakstep.watching.baseline import Baseline

    Places = NDArray[np.intp]

_SILENT = 10  # runs without a value, from which on a column is told


def new_places(log: RunLog, baseline: Baseline) -> Places:
    """
    Return the places of the runs that are not in the baseline.

    Once a new file uses the name of an old run again, reading tells both apart by their files; by
    its name without the file and its moment, the old one is still known.

    Parameters
    ----------
    log : RunLog
    baseline : Baseline

    Returns
    -------
    array of int, shape (n_new,)
    """
    old = set(_plain(baseline.runs, [file for file, _ in baseline.inputs]))
    keys = _plain(run_keys(log.runs), [one.file for one in log.inputs])
    return np.array([place for place, key in enumerate(keys) if key not in old], dtype=np.intp)


def _plain(keys: Iterable[tuple[str, str]], files: list[str]) -> list[tuple[str, str]]:
    """Names without the file that tells them apart, with their moments."""
    endings = tuple(f" ({file})" for file in files)
    return [
        (name[: name.rindex(" (")] if name.endswith(endings) else name, when) for name, when in keys
    ]


def early_runs(log: RunLog, places: Places, baseline: Baseline) -> tuple[str, ...]:
    """
    Return new runs that begin before the baseline's last one: an old run was changed, perhaps.

    Parameters
    ----------
    log : RunLog
    places : array of int, shape (n_new,)
        Those of the new runs.
    baseline : Baseline

    Returns
    -------
    tuple of str
    """
    early = log.runs.started_at[places] < _end(baseline)
    return tuple(str(log.runs.run_id[place]) for place in places[early])


def used_again(log: RunLog, places: Places, baseline: Baseline) -> tuple[str, ...]:
    """
    Return runs of the baseline to which rows were added on later days than its last run.

    The rows count as theirs and are not watched: a name was used again, perhaps.

    Parameters
    ----------
    log : RunLog
    places : array of int, shape (n_new,)
        Those of the new runs.
    baseline : Baseline

    Returns
    -------
    tuple of str
    """
    if "started_at" not in log.chips:
        return ()
    later = log.chips["started_at"].to_numpy(dtype="datetime64[s]") > _end(baseline)
    old = ~log.chips["run"].isin(log.runs.run_id[places]).to_numpy()
    return tuple(dict.fromkeys(map(str, log.chips["run"][later & old])))


def _end(baseline: Baseline) -> np.datetime64:
    """Last moment of the baseline; NaT, with which nothing compares, when it has none."""
    moments = np.array([when for _, when in baseline.runs], dtype="datetime64[s]")
    known = moments[~np.isnat(moments)]
    return np.datetime64(known.max() if len(known) else "NaT")


def stopped(log: RunLog, places: Places, baseline: Baseline) -> tuple[tuple[str, str], ...]:
    """
    Return watched columns that the last 10 new runs no longer carry, with the last run that does.

    Only of those that the baseline's runs nearly always carry.

    Parameters
    ----------
    log : RunLog
    places : array of int, shape (n_new,)
        Those of the new runs.
    baseline : Baseline

    Returns
    -------
    tuple of (column, run)
    """
    found = []
    for name, column in baseline.columns.items():
        usual = len(column.values) >= LOGGED_MOSTLY * len(baseline.runs)
        if not usual or name not in log.runs.numbers.columns:
            continue
        logged = places[log.runs.numbers[name].notna().to_numpy()[places]]
        if len(logged) and (places > logged[-1]).sum() >= _SILENT:
            found.append((name, str(log.runs.run_id[logged[-1]])))
    return tuple(found)


def unread(log: RunLog, places: Places) -> tuple[Problem, ...]:
    """
    Return the problems that keep cells or rows of the new runs out, worst first.

    A row that was set aside has no run: it counts as new below all rows of the baseline's runs.

    Parameters
    ----------
    log : RunLog
    places : array of int, shape (n_new,)
        Those of the new runs.

    Returns
    -------
    tuple of Problem
    """
    new = log.chips["run"].isin(log.runs.run_id[places])
    of_new = set(log.chips.loc[new, ["file", "line"]].itertuples(index=False, name=None))
    last = log.chips[~new].groupby("file")["line"].max().to_dict()
    return tuple(
        problem
        for problem in log.problems
        if problem.severity in ("set_aside", "cell_missing")
        and problem.line is not None
        and ((problem.file, problem.line) in of_new or problem.line > last.get(problem.file, 0))
    )
