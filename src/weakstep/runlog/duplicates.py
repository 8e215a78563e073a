"""Rows that are there twice, and rows that look copied from another run."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from weakstep.runlog.work import Work

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

_ENOUGH_EQUAL = 12
_IDS = ("chip_id", "run_id", "batch_id")
_FREE = ("notes", "failure_location")


def drop_duplicates(work: Work) -> None:
    """
    Set aside every row that repeats an earlier one in all cells, also across files.

    Only rows that name their chip, or that count the chips of a named run, can be told to be
    the same; two chips of one run may well be alike in everything else.
    """
    import numpy as np

    key = _row_key(work)
    if key is None:
        return
    rows = work.typed.index.to_numpy()
    ids = work.typed[key].to_numpy(dtype=object)
    named = np.flatnonzero(ids != "")
    columns = [c for c in work.typed.columns if c not in ("file", "line")]
    first, is_repeat = _first_of_equals(_hashed(work.typed, columns)[named])
    repeated = named[is_repeat]
    for row, earlier in zip(rows[repeated], rows[named[first[is_repeat]]], strict=True):
        _tell_repeated(work, int(row), int(earlier))
    if key == "chip_id":
        kept = named[~is_repeat]
        first, is_repeat = _first_of_equals(ids[kept])
        others = rows[kept[is_repeat]]
        for row, earlier in zip(others, rows[kept[first[is_repeat]]], strict=True):
            _tell_same_id(work, int(row), int(earlier), key)
    work.set_aside(rows[repeated].tolist(), "the same row is there already")


def _first_of_equals(keys: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return for every key the index of the first equal one, and whether it is a later one."""
    import numpy as np
    import pandas as pd

    codes, distinct = pd.factorize(keys)
    first = np.full(len(distinct), len(keys))
    np.minimum.at(first, codes, np.arange(len(keys)))
    return first[codes], first[codes] != np.arange(len(keys))


def _hashed(typed: pd.DataFrame, columns: Sequence[str]) -> np.ndarray:
    """Return one 64-bit hash per row over the typed cells of *columns*; missing equals missing."""
    import numpy as np
    import pandas as pd

    total = np.zeros(len(typed), dtype=np.uint64)
    for column in columns:
        cells = typed[column].to_numpy()
        if cells.dtype == object:
            cells = pd.factorize(cells)[0]
        total = _mixed(total, pd.util.hash_array(cells))
    return total


def _mixed(total: np.ndarray, more: np.ndarray) -> np.ndarray:
    """Join two columns of hashes, so that the order of columns counts."""
    import numpy as np

    mixed: np.ndarray = (total * np.uint64(6364136223846793005) + more) ^ (total >> np.uint64(29))
    return mixed


def _row_key(work: Work) -> str | None:
    if work.has("chip_id"):
        return "chip_id"
    if work.has("run_id") and work.has("chips_made"):
        return "run_id"
    return None


def _tell_repeated(work: Work, row: int, first: int) -> None:
    file, line = work.place(first)
    work.problem(
        row,
        None,
        "repeated_row",
        "set_aside",
        f"The row repeats {file}:{line} in all its cells and is counted once.",
        "Delete one of the two.",
        found=work.text(row, "chip_id") or work.text(row, "run_id"),
    )


def _tell_same_id(work: Work, row: int, first: int, key: str) -> None:
    file, line = work.place(first)
    work.problem(
        row,
        key,
        "same_id_twice",
        "question",
        f"The {work.process.item} is also in {file}:{line}, with other cells; both rows are used.",
        "Give each its own id, or delete the wrong row.",
    )


def point_out_copies(work: Work) -> None:
    """
    Ask about runs with a row that equals one of an earlier run in 12 or more cells.

    Rows are alike when all their settings, readings and times are equal, or all but one while
    they state the same moment.
    """
    import numpy as np

    columns = _comparable(work)
    if not work.has("run_id") or len(columns) < _ENOUGH_EQUAL:
        return
    rows = work.typed.index.to_numpy()
    runs = work.typed["run_id"].to_numpy(dtype=object)
    filled = np.sum([work.texts[c].filled()[rows] for c in columns], axis=0)
    usable = np.flatnonzero((filled >= _ENOUGH_EQUAL) & (runs != ""))
    if not len(usable):
        return
    told: set[tuple[str, str]] = set()
    hashes = [work.texts[column].codes[rows[usable]].astype(np.uint64) for column in columns]
    _ask_copies(work, _all_mixed(hashes), usable, "", told)
    if not work.has("started_at"):
        return
    dated = np.flatnonzero(~np.isnat(work.typed["started_at"].to_numpy()[usable]))
    clocked = _same_moment_elsewhere(work, usable[dated])
    for left_out in range(len(columns)):
        if columns[left_out] == "started_at" or not len(clocked):
            continue
        some = [
            work.texts[column].codes[rows[clocked]].astype(np.uint64)
            for index, column in enumerate(columns)
            if index != left_out
        ]
        _ask_copies(work, _all_mixed(some), clocked, columns[left_out], told)


def _comparable(work: Work) -> list[str]:
    return [
        p.name
        for p in work.process.parameters
        if p.name in work.texts and p.name not in (*_IDS, *_FREE) and p.role != "outcome"
    ]


def _all_mixed(columns: Sequence[np.ndarray]) -> np.ndarray:
    import numpy as np
    import pandas as pd

    total = np.zeros(len(columns[0]), dtype=np.uint64)
    for column in columns:
        total = _mixed(total, pd.util.hash_array(column))
    return total


def _same_moment_elsewhere(work: Work, places: np.ndarray) -> np.ndarray:
    """Return those of the rows that share a moment of the clock with another run."""
    import pandas as pd

    chosen = work.typed.iloc[places]
    moments = chosen["started_at"]
    timed = (moments != moments.dt.normalize()).to_numpy(dtype=bool)
    runs = pd.Series(pd.factorize(chosen["run_id"])[0], index=chosen.index)
    several = runs.groupby(moments).transform("nunique").to_numpy() > 1
    chosen_places: np.ndarray = places[several & timed]
    return chosen_places


def _ask_copies(
    work: Work, keys: np.ndarray, places: np.ndarray, but: str, told: set[tuple[str, str]]
) -> None:
    """Ask once per pair of runs about rows with equal keys; *but* names the one that may differ."""
    rows = work.typed.index.to_numpy()
    runs = work.typed["run_id"].to_numpy(dtype=object)
    first, is_later = _first_of_equals(keys)
    for place, earlier in zip(places[is_later], places[first[is_later]], strict=True):
        pair = (str(runs[earlier]), str(runs[place]))
        if pair[0] != pair[1] and pair not in told:
            told.add(pair)
            _tell_copied(work, int(rows[place]), int(rows[earlier]), pair[0], but)


def _tell_copied(work: Work, row: int, first: int, first_run: str, but: str) -> None:
    file, line = work.place(first)
    except_one = f" except {work.process.parameter(but).label}" if but else ""
    work.problem(
        row,
        "run_id",
        "copied_row",
        "question",
        f"All settings, readings and times{except_one} equal those of run {first_run} "
        f"({file}:{line}), "
        "as in a copied row.",
        "Write down what this run really had.",
    )
