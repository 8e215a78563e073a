"""What commands share: how one is described, which log and process it reads."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from weakstep.errors import OutputError

if TYPE_CHECKING:
    from weakstep.runlog.model import RunLog

Commands = argparse._SubParsersAction  # the type that argparse gives no public name

CLEAN, PROBLEMS, UNUSABLE = 0, 1, 2


def command(
    commands: Commands[argparse.ArgumentParser],
    name: str,
    what: str,
    example: str,
    more: str = "",
) -> argparse.ArgumentParser:
    """Add a command with its one-sentence help and one example."""
    return commands.add_parser(
        name,
        help=what,
        description=f"{what[0].upper()}{what[1:]}. {more}".strip(),
        epilog=f"Example: {example}",
    )


def add_log(command: argparse.ArgumentParser) -> None:
    """Add what names the log: its files, the process and the mapping of headers."""
    command.add_argument(
        "log", metavar="LOG", nargs="+", help="a file, a folder or a pattern such as 'logs/*.csv'"
    )
    add_process(command)
    command.add_argument(
        "--mapping",
        metavar="FILE",
        help="which header is which column, from 'check --save-mapping'",
    )


def add_process(command: argparse.ArgumentParser) -> None:
    """Add the option that names another process."""
    command.add_argument(
        "-p",
        "--process",
        metavar="FILE",
        help="description of the process (default: casting PDMS chips and bonding them to glass)",
    )


def read(logs: list[str], process_file: str | None, mapping_file: str | None) -> RunLog:
    """Read the log that a command names."""
    from weakstep.process.load import load_process
    from weakstep.runlog.mapping import load_mapping
    from weakstep.runlog.read import read_log

    process = load_process(process_file)
    mapping = load_mapping(mapping_file, process) if mapping_file else None
    return read_log(logs, process, mapping=mapping)


def check_is_no_log(path: str, logs: list[str]) -> None:
    """Refuse to write where a file of the log is."""
    from weakstep.runlog.files import find_files

    if Path(path).resolve() in {file.resolve() for file in find_files(logs)}:
        message = f"{path}: is a file of the log, which is never touched. Name another file."
        raise OutputError(message)
