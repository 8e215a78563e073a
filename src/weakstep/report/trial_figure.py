"""The half-normal plot of a finished trial as a file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from weakstep.errors import OutputError
from weakstep.report.figures.half_normal import half_normal
from weakstep.report.pictures import svg_file
from weakstep.runlog.writing import write_whole
from weakstep.trials.names import effect_names, labels_of

if TYPE_CHECKING:
    from pathlib import Path

    from weakstep.process.model import Process
    from weakstep.trials.finished import Finished

FIGURE = "effects.svg"


def write_half_normal(found: Finished, process: Process, folder: Path) -> Path:
    """
    Write the half-normal plot beside the sheet.

    Raises
    ------
    OutputError
        The folder cannot be written to.
    """
    labels = labels_of(found.plan, process)
    names = [effect_names(effect.words, labels) for effect in found.effects]
    scale = "difference of means" if found.plan.rates is None else "log odds ratio"
    path = folder / FIGURE
    try:
        write_whole(path, svg_file(half_normal(found.effects, names, scale)).encode())
    except OSError as reason:
        msg = f"{path}: the half-normal plot cannot be written ({reason.strerror})."
        raise OutputError(msg) from reason
    return path
