"""`weakstep watch --follow` as a user types it."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from argparse import Namespace
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from weakstep.cli.watch import _state_once_still
from weakstep.watching.history import FILE

sys.path.insert(0, str(Path(__file__).parent))
from watched_log import HEAD, grow, rows, signals

SOURCE = str(Path(__file__).parents[2] / "src")
Followed = tuple[Path, Callable[[], str], Callable[[], int]]


def wait_for(find: Callable[[], bool], seconds: float = 60.0) -> bool:
    """Return whether something comes true in time."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if find():
            return True
        time.sleep(0.1)
    return False


@pytest.fixture
def followed(bench: tuple[Path, list[str]], tmp_path: Path) -> Iterator[Followed]:
    """Return a log that is followed: it, what is printed, and how to stop with an exit code."""
    log, words = bench
    out = tmp_path / "out.txt"

    def stop() -> int:
        process.send_signal(signal.SIGINT)
        return process.wait(timeout=30)

    with out.open("w", encoding="utf-8") as stream:
        process = subprocess.Popen(
            [sys.executable, "-m", "weakstep", *words, "--follow", "--every", "0.2"],
            stdout=stream,
            stderr=subprocess.STDOUT,
            env={**os.environ, "PYTHONPATH": SOURCE},
            # A shell that runs the tests in the background has its children ignore Ctrl-C.
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
        )
        try:
            assert wait_for(lambda: "Nothing signals" in out.read_text(encoding="utf-8"))
            yield log, lambda: out.read_text(encoding="utf-8"), stop
        finally:
            process.kill()
            process.wait()


def test_follow_tells_what_comes(followed: Followed) -> None:
    """`--follow` re-reads a file that grows and tells each signal once; Ctrl-C ends it with 1."""
    log, printed, stop = followed
    grow(log, rows(60, 20, 80.0, 2))
    assert wait_for(lambda: "is higher" in printed())
    time.sleep(0.5)
    assert stop() == 1
    lines = signals(printed())
    assert len(lines) == len(set(lines))


def test_follow_waits_for_a_log_that_is_away(followed: Followed) -> None:
    """A folder that is replaced ends nothing; it is told once, and what came is read."""
    log, printed, stop = followed
    aside = log.parent.with_name("aside")
    log.parent.rename(aside)
    assert wait_for(lambda: "weakstep: the log is away; waiting for it." in printed())
    time.sleep(1.0)
    grow(aside / log.name, rows(60, 20, 80.0, 2))
    aside.rename(log.parent)
    assert wait_for(lambda: "is higher" in printed())
    assert stop() == 1
    assert printed().count("is away") == 1


def test_a_file_is_read_once_it_lies_still(tmp_path: Path) -> None:
    """Written bit by bit for a second, it is told when all is there: no half row is read."""
    log = tmp_path / "log.csv"
    grow(log, HEAD)

    def write() -> None:
        for _ in range(50):
            grow(log, "R060,R0")
            time.sleep(0.02)

    writer = threading.Thread(target=write)
    writer.start()
    told = _state_once_still(Namespace(log=[str(log)], every=0.5))
    writer.join()
    assert told[0][1] == len(HEAD) + 50 * len("R060,R0")


def test_follow_mends_itself(followed: Followed) -> None:
    """While the history is no file of ours it says so once; then it goes on."""
    log, printed, stop = followed
    history = log.with_name(FILE)
    history.write_bytes(b"x")
    grow(log, rows(60, 20, 80.0, 2))
    assert wait_for(lambda: "it is no history" in printed())
    time.sleep(1.0)
    history.unlink()
    assert wait_for(lambda: "is higher" in printed())
    assert stop() == 1
    assert printed().count("it is no history") == 1
