"""`weakstep check`: every problem of a log."""

from __future__ import annotations

import argparse
import sys
from shutil import get_terminal_size

from weakstep.cli.shared import CLEAN, PROBLEMS, Commands, add_log, check_is_no_log, command, read

UNLOGGED = (
    "Were failed chips always logged? What was thrown away without a row is in no figure, "
    "and can turn every finding. Count what is made each week, and give the count with --made."
)


def add(commands: Commands[argparse.ArgumentParser]) -> None:
    """Add the command."""
    check = command(
        commands,
        "check",
        "read the log and list every problem with file, line, column and what to do",
        "weakstep check logs/*.csv",
        "Exit code: 0 no problem, 1 problems, 2 the log cannot be used.",
    )
    add_log(check)
    check.add_argument(
        "--format",
        choices=["text", "csv", "json"],
        default="text",
        help="text to read, or every problem for a program (default: %(default)s)",
    )
    check.add_argument(
        "--save-mapping", metavar="FILE", help="write which header was taken for which column"
    )
    check.add_argument(
        "--write-clean",
        metavar="FILE",
        help="write a corrected copy as CSV; the log itself is never touched",
    )
    check.add_argument(
        "--made",
        metavar="FILE",
        help="a CSV file with a date in each week and how many were made: weeks with fewer rows "
        "are told",
    )
    check.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """List every problem; 1 when there is any."""
    from weakstep.runlog.clean import write_clean
    from weakstep.runlog.listing import (
        check_json,
        columns_text,
        problems_csv,
        problems_text,
        wrapped,
    )
    from weakstep.runlog.mapping import write_mapping
    from weakstep.runlog.unlogged import compare_with_made

    log = read(options.log, options.process, options.mapping)
    if options.made:
        log = compare_with_made(log, options.made)
    if options.save_mapping:
        write_mapping(log, options.save_mapping)
    if options.write_clean:
        check_is_no_log(options.write_clean, options.log)
        write_clean(log, options.write_clean)
    asked = [problem for problem in log.problems if problem.severity != "note"]
    if options.format == "text":
        counts = _counts(log.rows_read, len(log.set_aside), len(asked), len(log.care))
        text = f"{columns_text(log)}\n\n{problems_text(log)}\n{counts}\n{UNLOGGED}"
        print(wrapped(text, get_terminal_size().columns) if sys.stdout.isatty() else text)
    else:
        print(check_json(log) if options.format == "json" else problems_csv(log), end="")
    return PROBLEMS if asked else CLEAN


def _counts(rows: int, set_aside: int, problems: int, care: int) -> str:
    return (
        f"\n{rows} rows read, {set_aside} set aside; {problems} "
        f"{'problem' if problems == 1 else 'problems'}; {care} "
        f"{'cell' if care == 1 else 'cells'} read with care."
    )
