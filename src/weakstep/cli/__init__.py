"""The command line: parse, call, print, exit code; no arithmetic. One module per command."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence

from weakstep import __version__
from weakstep.cli import check, compare, review, sheet, trial, watch
from weakstep.cli.shared import CLEAN, UNUSABLE
from weakstep.errors import WeakstepError

SUMMARY = "Reads a semester of bench run logs and says which step to tighten first."


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: 0 fine, 1 problems found, 2 unusable input."""
    options = parser().parse_args(arguments)
    for library in ("OPENBLAS", "OMP", "MKL"):
        # Matrices here are small: a second thread waits longer than it works.
        os.environ.setdefault(f"{library}_NUM_THREADS", "1")
    try:
        code: int = options.run(options)
        sys.stdout.flush()
    except WeakstepError as reason:
        print(f"weakstep: {reason}", file=sys.stderr)
        return UNUSABLE
    except BrokenPipeError:
        # Whoever read our lines has seen enough; what is still to be printed goes nowhere.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return CLEAN
    except OSError as reason:
        where = f" {reason.filename}" if reason.filename else ""
        print(f"weakstep: cannot use{where}: {reason.strerror}.", file=sys.stderr)
        return UNUSABLE
    except KeyboardInterrupt:
        print("weakstep: stopped on your request; nothing was half written.", file=sys.stderr)
        return 130
    return code


def parser() -> argparse.ArgumentParser:
    """Build the parser of all commands."""
    whole = argparse.ArgumentParser(prog="weakstep", description=SUMMARY)
    whole.add_argument("--version", action="version", version=f"weakstep {__version__}")
    commands = whole.add_subparsers(title="commands", metavar="COMMAND", required=True)
    review.add_demo(commands)
    check.add(commands)
    review.add(commands)
    sheet.add(commands)
    compare.add(commands)
    trial.add(commands)
    watch.add(commands)
    return whole
