"""Rows that are there twice, and rows that look copied from another run."""

from __future__ import annotations

from typing import TYPE_CHECKING

from weakstep.runlog.work import Work

if TYPE_CHECKING:
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
    key = _row_key(work)
    if key is None:
        return
    ids = work.typed[key].fillna("").astype(str)
    columns = [c for c in work.typed.columns if c not in ("file", "line")]
    named = (ids != "").to_numpy(dtype=bool)
    keys = _joined(work.typed[columns])
    first_of: dict[str, int] = {}
    by_id: dict[str, int] = {}
    repeated: list[int] = []
    for row, is_named, row_key, chip in zip(work.typed.index, named, keys, ids, strict=True):
        if not is_named:
            continue
        if row_key in first_of:
            repeated.append(int(row))
            _tell_repeated(work, int(row), first_of[row_key])
            continue
        first_of[row_key] = int(row)
        if key == "chip_id" and chip in by_id:
            _tell_same_id(work, int(row), by_id[chip], key)
        by_id.setdefault(chip, int(row))
    work.set_aside(repeated, "the same row is there already")


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
    """Ask about rows of another run that equal the row of an earlier one in 12 or more cells."""
    if not work.has("run_id"):
        return
    columns = [
        p.name
        for p in work.process.parameters
        if work.has(p.name) and p.name not in (*_IDS, *_FREE) and p.role != "outcome"
    ]
    if len(columns) < _ENOUGH_EQUAL:
        return
    keys = _keys(work.texts.loc[work.typed.index], columns)
    runs = work.typed["run_id"].fillna("").astype(str)
    seen: dict[str, tuple[int, str]] = {}
    told: set[tuple[str, str]] = set()
    for row, key, run in zip(work.typed.index, keys, runs, strict=True):
        if key is None or not run:
            continue
        first, first_run = seen.setdefault(key, (int(row), run))
        if first_run != run and (first_run, run) not in told:
            told.add((first_run, run))
            _tell_copied(work, int(row), first, first_run)


def _keys(texts: pd.DataFrame, columns: list[str]) -> list[str | None]:
    """Return the cells of each row as one key, None for rows with fewer than 12 filled cells."""
    written = [column for column in columns if column in texts.columns]
    if not written:
        return [None] * len(texts)
    filled = texts[written].fillna("").astype(str)
    enough = ((filled != "").sum(axis=1) >= _ENOUGH_EQUAL).to_numpy(dtype=bool)
    return [key if ok else None for key, ok in zip(_joined(filled), enough, strict=True)]


def _joined(frame: pd.DataFrame) -> list[str]:
    """Return the cells of each row as one text."""
    return ["\x1f".join(map(str, cells)) for cells in frame.itertuples(index=False)]


def _tell_copied(work: Work, row: int, first: int, first_run: str) -> None:
    file, line = work.place(first)
    work.problem(
        row,
        "run_id",
        "copied_row",
        "question",
        f"All settings, readings and times equal those of run {first_run} ({file}:{line}), "
        "as in a copied row.",
        "Write down what this run really had.",
    )
