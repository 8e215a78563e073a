"""The one place that writes files: everything or nothing."""

from __future__ import annotations

import json
import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from weakstep.errors import OutputError
from weakstep.report.contents import contents, plots
from weakstep.report.findings import SCHEMA, findings_text
from weakstep.report.page import render
from weakstep.report.pictures import Kind, pictures
from weakstep.report.summary import summary
from weakstep.report.tables import tables
from weakstep.watching.baseline import FILE as BASELINE
from weakstep.watching.baseline import baseline_json
from weakstep.watching.freezing import freeze

if TYPE_CHECKING:
    from weakstep.reviewing import Review

PAGE = "report.html"
FINDINGS = "findings.json"
SUMMARY = "summary.md"


def write_report(
    review: Review,
    folder: str | Path,
    *,
    title: str | None = None,
    static: bool = False,
    figures: Kind | None = None,
) -> Path:
    """
    Write the page, findings.json and the tables into a folder, whole or not at all.

    Everything is written beside the folder first and then moved into place, so that a reader
    never meets half a report. An existing folder is replaced only when it is empty or holds an
    earlier report (its findings.json says so).

    Parameters
    ----------
    review : Review
    folder : str or Path
        Made when it does not exist, with its parents.
    title : str, optional
        Heading of the page and the summary; left out, the process names it.
    static : bool, default False
        Whether to leave out what figures need for zooming, which makes the page a tenth as heavy.
    figures : {"svg", "png"}, optional
        Write each figure as a file of its own, too.

    Returns
    -------
    Path
        Of report.html.

    Raises
    ------
    OutputError
        When the folder holds something else or cannot be written, or when PNG figures are asked for
        and cannot be drawn here.
    """
    target = Path(folder)
    check_folder(target)
    files = _files(review, title, static, figures)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".weakstep-", dir=target.parent) as beside:
            fresh = Path(beside) / "new"
            for name, content in files.items():
                place = fresh / name
                place.parent.mkdir(parents=True, exist_ok=True)
                place.write_bytes(content)
            _swap(fresh, target, Path(beside) / "old")
    except OSError as error:
        reason = error.strerror or str(error)
        msg = f"The report cannot be written to '{target}': {reason}. Name another folder with -o."
        raise OutputError(msg) from error
    return target / PAGE


def _files(
    review: Review, title: str | None, static: bool, figures: Kind | None
) -> dict[str, bytes]:
    said = contents(review, title=title, short=static)
    texts = {
        PAGE: render(said, review, zoom=not static),
        FINDINGS: findings_text(review),
        SUMMARY: summary(said, review),
        BASELINE: baseline_json(freeze(review)),
        **tables(review),
    }
    files = {name: text.encode() for name, text in texts.items()}
    return files | (pictures(plots(said), figures) if figures else {})


def check_folder(folder: str | Path) -> None:
    """
    Raise OutputError unless a report may be written to *folder*.

    It may when the folder does not exist, is empty, or holds an earlier report. Asking before a
    long computation spares the wait for a refusal.
    """
    target = Path(folder)
    if target.is_dir():
        if not any(target.iterdir()) or _made_by_weakstep(target):
            return
        msg = (
            f"The folder '{target}' holds files that weakstep did not make, so it is left alone. "
            f"Name a new or empty folder with -o."
        )
        raise OutputError(msg)
    if target.exists():
        msg = f"'{target}' is a file, not a folder. Name a new or empty folder with -o."
        raise OutputError(msg)


def _made_by_weakstep(target: Path) -> bool:
    try:
        found = json.loads((target / FINDINGS).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    schema = found.get("schema") if isinstance(found, dict) else None
    return isinstance(schema, str) and schema.startswith(SCHEMA.split("/")[0] + "/")


def _swap(fresh: Path, target: Path, aside: Path) -> None:
    if target.exists():
        target.rename(aside)
    try:
        fresh.rename(target)
    except OSError:
        if aside.exists():
            aside.rename(target)
        raise
    shutil.rmtree(aside, ignore_errors=True)
