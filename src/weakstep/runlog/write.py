"""Writing the rows that were set aside."""

from __future__ import annotations

import csv
from pathlib import Path

from weakstep.errors import OutputError
from weakstep.runlog.model import RunLog
from weakstep.runlog.safe import safe_cell


def write_set_aside(log: RunLog, path: str | Path) -> Path:
    """
    Write the rows kept out of *log* as CSV: file, line, reason, then their cells as found.

    Raises
    ------
    OutputError
        The file cannot be written.
    """
    target = Path(path)
    frame = log.set_aside.fillna("")
    try:
        with target.open("w", encoding="utf-8", newline="") as stream:
            writer = csv.writer(stream)
            writer.writerow([safe_cell(str(name)) for name in frame.columns])
            for cells in frame.itertuples(index=False):
                writer.writerow([safe_cell(str(cell)) for cell in cells])
    except OSError as error:
        msg = f"{target}: the rows set aside cannot be written ({error.strerror})."
        raise OutputError(msg) from error
    return target
