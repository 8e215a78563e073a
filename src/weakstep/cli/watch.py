"""`weakstep watch`: the next runs against a frozen baseline."""

from __future__ import annotations

import argparse
import sys
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


_STILL = 1.0  # seconds at most that files must lie still before they are read
_PATIENCE = 10  # times that is waited for


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
    from weakstep.runlog.files import find_files
    from weakstep.watching.baseline import read_baseline
    from weakstep.watching.history import History

    baseline = read_baseline(Path(options.baseline))
    find_files(options.log)  # without a log nothing is noted beside it
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
    while not path.is_dir() and path != path.parent:  # a pattern may begin in the folder's name
        path = path.parent
    return path / FILE


def _now() -> str:
    from datetime import UTC, datetime

    return datetime.now(UTC).isoformat(timespec="seconds")


def _note(options: argparse.Namespace, baseline: Baseline, history: History) -> None:
    """Keep what the user says was seen or done, all of it or nothing; say that it is kept."""
    from weakstep.watching.keeping import acknowledgement, reset

    _check_notes(options)
    words = {"note": options.note, "who": options.by, "at": _now()}
    noted = {}
    if options.acknowledge is not None:
        said = f"Signal {options.acknowledge} is acknowledged."
        noted[said] = acknowledgement(history, baseline, options.acknowledge, **words)
    if options.reset:
        said = f"Chart '{options.reset}' starts anew after run {options.after}."
        noted[said] = reset(baseline, options.reset, options.after, **words)
    history.add(noted.values())
    for said in noted:
        print(said)


def _check_notes(options: argparse.Namespace) -> None:
    message = ""
    if options.after and not options.reset:
        message = "--after needs --reset CHART: the chart that starts anew."
    elif options.reset and not options.after:
        message = "--reset needs --after RUN: the last run before the service."
    elif (options.note or options.by) and options.acknowledge is None and not options.reset:
        message = "--note and --by say what was done: they need --acknowledge N or --reset CHART."
    elif options.after:
        log = read(options.log, options.process, options.mapping)
        if options.after not in set(map(str, log.runs.run_id)):
            message = f"No run of the log is called '{options.after}'; name the last one before."
    if message:
        raise LogError(message)


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
    """Look once, then whenever the files have changed and lie still; until Ctrl-C."""
    from weakstep.watching.keeping import open_signals

    try:
        seen, trouble = _state(options.log), ""
        found = _look(options, baseline, history)
        _print(found, baseline, process)
        told = {event.number for event in found.open}
        while True:
            sys.stdout.flush()
            now, before = _state_once_still(options), trouble
            trouble = "" if now else "the log is away; waiting for it."
            if now and now != seen:
                try:
                    found = _look(options, baseline, history)
                except LogError as reason:  # it may be mended: the next look will tell
                    trouble = str(reason)
                else:
                    seen = now
            for event in found.open:
                if event.number not in told:
                    print(_line(event))
            told |= {event.number for event in found.open}
            if trouble not in ("", before):
                print(f"weakstep: {trouble}", file=sys.stderr)
    except KeyboardInterrupt:
        return PROBLEMS if open_signals(history, baseline) else CLEAN


def _state_once_still(options: argparse.Namespace) -> list[tuple[str, int, int]]:
    """Wait for the next look, and while somebody writes: half a row would be read as a row."""
    import time

    time.sleep(options.every)
    now = _state(options.log)
    for _ in range(_PATIENCE):
        time.sleep(min(options.every, _STILL))
        before, now = now, _state(options.log)
        if now == before:
            break
    return now


def _state(logs: list[str]) -> list[tuple[str, int, int]]:
    """Name, size and time of change of each file; none while one of them is away."""
    from weakstep.runlog.files import find_files

    try:
        states = [(file, file.stat()) for file in find_files(logs)]
    except (LogError, OSError):
        return []
    return [(str(file), state.st_size, state.st_mtime_ns) for file, state in states]
