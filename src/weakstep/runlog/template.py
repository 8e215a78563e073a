"""An empty log for a described process."""

from __future__ import annotations

import csv
from pathlib import Path

from weakstep.errors import OutputError
from weakstep.process.model import Process


def write_sheet(process: Process, path: str | Path) -> Path:
    """
    Write a CSV file with the columns of *process* as its header and no rows.

    Computed columns and counts are left out; every header reads back as its column.

    Raises
    ------
    OutputError
        The file cannot be written.
    """
    target = Path(path)
    headers = [
        parameter.name
        for parameter in process.parameters
        if parameter.formula is None and parameter.name not in ("chips_made", "chips_failed")
    ]
    try:
        with target.open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerow(headers)
    except OSError as error:
        msg = f"{target}: the empty log cannot be written ({error.strerror})."
        raise OutputError(msg) from error
    return target
