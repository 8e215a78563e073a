"""`weakstep sheet`: an empty log."""

from __future__ import annotations

import argparse
from pathlib import Path

from weakstep.cli.shared import CLEAN, Commands, add_process, command


def add(commands: Commands[argparse.ArgumentParser]) -> None:
    """Add the command."""
    sheet = command(
        commands, "sheet", "write an empty log for the process", "weakstep sheet -o log.xlsx"
    )
    add_process(sheet)
    sheet.add_argument(
        "-o",
        "--out",
        metavar="FILE",
        default="log.csv",
        help="ends in .csv, .xlsx (lists and limits in the cells) or .html (a page to print for "
        "the bench); default: %(default)s",
    )
    sheet.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Write the empty log."""
    from weakstep.process.load import load_process
    from weakstep.runlog.template import write_sheet

    path = Path(options.out)
    write_sheet(load_process(options.process), path)
    print(f"An empty log is in {path}; fill one row per item.")
    return CLEAN
