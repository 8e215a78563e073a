"""The lab's own list of changes: `changes.csv` or `changes.toml` beside the log."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from weakstep.errors import LogError
from weakstep.runlog.columns import HeaderBook
from weakstep.runlog.files import CHANGES, find_files
from weakstep.semesters.entries import entries_of
from weakstep.semesters.model import Change
from weakstep.trials.periods import read_window

if TYPE_CHECKING:
    from collections.abc import Sequence

    from weakstep.process.model import Process
    from weakstep.semesters.entries import Entry

NAMES = (CHANGES, "changes.toml")


@dataclass(frozen=True)
class _Place:
    """What a cell of the list is about: a parameter, or a step, or neither."""

    column: str | None = None
    step: str | None = None


def changes_beside(paths: str | Path | Sequence[str | Path]) -> Path | None:
    """
    Find the list of changes that lies in a folder of the log.

    Parameters
    ----------
    paths : str, Path or sequence of them
        As given to `weakstep.read_log`.

    Returns
    -------
    Path or None

    Raises
    ------
    LogError
        There are several lists.
    """
    files = find_files(paths)
    given = [paths] if isinstance(paths, str | Path) else paths
    named = [Path(path) for path in given if Path(path).is_dir()]
    folders = dict.fromkeys([*named, *(file.parent for file in files)])
    found = [
        folder / name
        for folder in folders
        for name in NAMES
        if (folder / name).is_file() and folder / name not in files
    ]
    if len(found) > 1:
        msg = (
            f"There are {len(found)} lists of changes beside the log "
            f"({', '.join(map(str, found))}); name the one that holds with --changes."
        )
        raise LogError(msg)
    return found[0] if found else None


def read_changes(path: str | Path, process: Process) -> tuple[Change, ...]:
    """
    Read a list of changes.

    A CSV file has a header with `date` and `change` and, as far as wanted, `parameter` (a column or
    a step of the process), `family`, `window` (LOW:HIGH), `from_review` and `notes`; a TOML file
    has a table `[[change]]` with these keys for each change.

    Parameters
    ----------
    path : str or Path
    process : Process

    Returns
    -------
    tuple of Change
        In order of time.

    Raises
    ------
    LogError
        Something in the list cannot be used; names file, line, column and what was found.
    """
    changes = [_change(entry, process) for entry in entries_of(Path(path))]
    return tuple(sorted(changes, key=lambda change: change.date))


def _change(entry: Entry, process: Process) -> Change:
    what = entry.text("change")
    if not what:
        entry.refuse("change", "expected what was changed, in a few words")
    place = _place(entry, process)
    return Change(
        date=np.datetime64(entry.day(), "D"),
        what=what.rstrip(" ."),
        column=place.column,
        step=place.step,
        family=_family(entry, process),
        window=_window(entry, place),
        from_review=entry.text("from_review").rstrip(" .") or None,
        place=entry.place,
    )


def _place(entry: Entry, process: Process) -> _Place:
    text = entry.text("parameter")
    if not text:
        return _Place()
    for step in process.steps:
        if text.lower() in (step.name.lower(), step.label.lower()):
            return _Place(step=step.name)
    by_label = [one for one in process.parameters if one.label.lower() == text.lower()]
    parameter = by_label[0] if by_label else HeaderBook(process).match(text).parameter
    if parameter is None:
        known = [one.name for one in process.parameters] + [step.name for step in process.steps]
        close = get_close_matches(text.lower(), known, n=1)
        hint = f" (did you mean {close[0]}?)" if close else ""
        entry.refuse(
            "parameter",
            f"expected a column or a step of the process, such as delay_s, or nothing{hint}"
            if process.has("delay_s")
            else f"expected a column or a step of the process, or nothing{hint}",
        )
    return _Place(column=parameter.name)


def _family(entry: Entry, process: Process) -> str | None:
    text = entry.text("family")
    if not text:
        return None
    named = [
        family.name
        for family in process.families
        if text.lower() in (family.name.lower(), family.label.lower())
    ]
    if not named:
        entry.refuse(
            "family", f"expected a failure family ({', '.join(f.name for f in process.families)})"
        )
    return named[0]


def _window(entry: Entry, place: _Place) -> tuple[float | None, float | None] | None:
    text = entry.text("window")
    if not text:
        return None
    window = read_window(text)
    if window is None:
        entry.refuse("window", "expected LOW:HIGH in its unit, such as 20:60 or :60")
    if place.column is None:
        entry.refuse("window", "name the parameter that it belongs to in the same line")
    return window
