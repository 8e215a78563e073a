"""`weakstep watch`: the next runs against a frozen baseline."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from weakstep.cli.numbers import number
from weakstep.cli.shared import CLEAN, PROBLEMS, Commands, add_log, command, read
from weakstep.errors import LogError

if TYPE_CHECKING:
    from weakstep.process.model import Process
    from weakstep.watching.baseline import Baseline
    from weakstep.watching.history import Event, History
    from weakstep.watching.keeping import Look


def add(commands: Commands[argparse.ArgumentParser]) -> None:
    """Add the command."""
    watch = command(
        commands,
        "watch",
        "check new runs, run by run, against the baseline that a review froze",
        "weakstep watch logs/ --baseline spring-report/baseline.json",
        "Exit code: 0 quiet, 1 a signal that nobody has acknowledged, 2 unusable.",
    )
    add_log(watch)
    watch.add_argument(
        "--baseline", metavar="FILE", required=True, help="baseline.json of a review"
    )
    watch.add_argument(
        "--history", metavar="FILE", help="default: weakstep-history.sqlite beside the log"
    )
    watch.add_argument(
        "--acknowledge", type=int, metavar="N", help="note that signal N was seen and dealt with"
    )
    watch.add_argument(
        "--reset",
        metavar="CHART",
        help="let a chart start anew: a column, 'failures' or one family as 'failures:bond', "
        "'joint', or 'all'",
    )
    watch.add_argument("--after", metavar="RUN", help="with --reset: the last run before it")
    watch.add_argument("--by", metavar="CODE", default="", help="who acknowledges or resets")
    watch.add_argument("--note", metavar="TEXT", default="", help="what was found or done")
    watch.add_argument(
        "--follow", action="store_true", help="look again whenever the log changes; stop by Ctrl-C"
    )
    watch.add_argument(
        "--every",
        type=number(float, "a number from 0.1 to 86400", lambda value: 0.1 <= value <= 86400.0),
        default=5.0,
        metavar="SECONDS",
        help="default: %(default)s",
    )
    watch.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Look once, or follow; 1 when a signal is open."""
    from weakstep.process.load import load_process
    from weakstep.watching.baseline import read_baseline
    from weakstep.watching.history import History

    baseline = read_baseline(Path(options.baseline))
    history = History(options.history or _beside(options.log[0]))
    _note(options, baseline, history)
    process = load_process(options.process)
    if options.follow:
        return _follow(options, baseline, history, process)
    found = _look(options, baseline, history)
    _print(found, baseline, process)
    return PROBLEMS if found.open else CLEAN


def _beside(log: str) -> Path:
    from weakstep.watching.history import FILE

    path = Path(log)
    return (path if path.is_dir() else path.parent) / FILE


def _now() -> str:
    from datetime import UTC, datetime

    return datetime.now(UTC).isoformat(timespec="seconds")


def _note(options: argparse.Namespace, baseline: Baseline, history: History) -> None:
    from weakstep.watching.keeping import acknowledge, reset

    words = {"note": options.note, "who": options.by, "at": _now()}
    if options.acknowledge is not None:
        acknowledge(history, baseline, options.acknowledge, **words)
    if options.after and not options.reset:
        message = "--after needs --reset CHART: the chart that starts anew."
        raise LogError(message)
    if options.reset:
        if not options.after:
            message = "--reset needs --after RUN: the last run before the service."
            raise LogError(message)
        log = read(options.log, options.process, options.mapping)
        if options.after not in set(map(str, log.runs.run_id)):
            message = f"No run of the log is called '{options.after}'; name the last one before."
            raise LogError(message)
        reset(history, baseline, options.reset, options.after, **words)


def _look(options: argparse.Namespace, baseline: Baseline, history: History) -> Look:
    from weakstep.watching.keeping import look

    log = read(options.log, options.process, options.mapping)
    return look(log, baseline, history, at=_now())


def _print(found: Look, baseline: Baseline, process: Process) -> None:
    from weakstep.watching.words import summary_words

    print(summary_words(found.watched, baseline, process))
    for event in found.open:
        print(_line(event))
    if not found.open and found.watched.signals:
        print("No new signal: all were acknowledged.")
    elif not found.open:
        print("Nothing signals.")


def _line(event: Event) -> str:
    return f"signal {event.number}, {event.said}"


def _follow(
    options: argparse.Namespace, baseline: Baseline, history: History, process: Process
) -> int:
    import time

    from weakstep.runlog.files import find_files
    from weakstep.watching.keeping import open_signals

    told: set[int] = set()
    seen: list[tuple[str, int, int]] = []
    first = True
    try:
        while True:
            states = [(file, file.stat()) for file in find_files(options.log)]
            now = [(str(file), state.st_size, state.st_mtime_ns) for file, state in states]
            if now != seen:
                seen = now
                try:
                    found = _look(options, baseline, history)
                except LogError as reason:  # half written, perhaps: the next look will tell
                    print(f"weakstep: {reason}", flush=True)
                    continue
                finally:
                    time.sleep(options.every)
                if first:
                    _print(found, baseline, process)
                    first = False
                else:
                    for event in found.open:
                        if event.number not in told:
                            print(_line(event), flush=True)
                told |= {event.number for event in found.open}
            else:
                time.sleep(options.every)
    except KeyboardInterrupt:
        return PROBLEMS if open_signals(history, baseline) else CLEAN
