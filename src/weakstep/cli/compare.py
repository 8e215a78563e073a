"""`weakstep compare`: did the change work."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from weakstep.cli.shared import CLEAN, Commands, add_log, command, read
from weakstep.errors import LogError

if TYPE_CHECKING:
    from datetime import datetime

    from weakstep.trials.periods import Periods


def add(commands: Commands[argparse.ArgumentParser]) -> None:
    """Add the command."""
    compare = command(
        commands,
        "compare",
        "did the change work: failures before and after, and the chance that it is luck",
        "weakstep compare logs/ --since 2026-05-04 --column delay_s --window :60",
    )
    add_log(compare)
    split = compare.add_mutually_exclusive_group(required=True)
    split.add_argument(
        "--since", type=day, metavar="DATE", help="first day after the change (2026-05-04)"
    )
    split.add_argument("--since-run", metavar="RUN", help="first run after the change")
    split.add_argument(
        "--against", nargs="+", metavar="LOG", help="an earlier log, to compare LOG with"
    )
    compare.add_argument(
        "--column", metavar="NAME", help="the parameter that was changed on purpose"
    )
    compare.add_argument(
        "--window",
        type=window,
        metavar="LOW:HIGH",
        help="what it was to be held in; either end may be left out",
    )
    compare.add_argument("--family", metavar="NAME", help="only this failure family")
    compare.add_argument("--format", choices=["text", "json"], default="text")
    compare.add_argument(
        "--seed", type=int, default=0, help="seed of re-orderings (default: %(default)s)"
    )
    compare.set_defaults(run=run)


def day(text: str) -> datetime:
    """Read a date as ISO writes it, with or without a time."""
    from datetime import datetime

    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        message = f"found {text!r}, expected a date such as 2026-05-04"
        raise argparse.ArgumentTypeError(message) from None
    if moment.tzinfo is not None:
        message = f"found {text!r}; leave out the time zone, as the log does"
        raise argparse.ArgumentTypeError(message)
    return moment


def window(text: str) -> tuple[float | None, float | None]:
    """Read a window: two numbers around a colon, one of which may be left out."""
    from weakstep.trials.periods import read_window

    ends = read_window(text)
    if ends is None:
        message = f"found {text!r}, expected LOW:HIGH such as 20:60 or :60"
        raise argparse.ArgumentTypeError(message)
    return ends


def run(options: argparse.Namespace) -> int:
    """Print the comparison."""
    import json

    from weakstep.trials.comparing import compare
    from weakstep.trials.comparison_data import comparison_dict
    from weakstep.trials.comparison_words import comparison_text

    if options.window and not options.column:
        message = "--window needs --column: name the parameter that was to be held in it."
        raise LogError(message)
    periods = _periods(options)
    found = compare(
        periods,
        column=options.column,
        window=options.window,
        family=options.family,
        seed=options.seed,
    )
    if options.format == "json":
        print(json.dumps(comparison_dict(found), indent=2, ensure_ascii=False))
    else:
        print(comparison_text(found, periods.process))
    return CLEAN


def _periods(options: argparse.Namespace) -> Periods:
    from weakstep.trials.periods import split_at_date, split_at_run, two_logs

    log = read(options.log, options.process, options.mapping)
    if options.against:
        return two_logs(read(options.against, options.process, options.mapping), log)
    if options.since_run:
        return split_at_run(log, options.since_run)
    return split_at_date(log, options.since)
