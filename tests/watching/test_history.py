"""The history file: it only grows, two may write, and a killed writer loses nothing."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest

from weakstep.errors import LogError
from weakstep.watching.history import Event, History

WRITER = """
import sys
from weakstep.watching.history import Event, History
history = History(sys.argv[1])
for number in range(int(sys.argv[3])):
    history.add([Event(0, "", "b", "signal", sys.argv[2], f"R{number}-{k}", "said " * 200, "")
                 for k in range(3)])
    print(number, flush=True)
"""
SOURCE = str(Path(__file__).parents[2] / "src")


def event(run: str, kind: str = "signal", chart: str = "heat, higher") -> Event:
    """Return an entry of the baseline 'b'."""
    return Event(0, "2026-05-04T10:00:00+00:00", "b", kind, chart, run, "said", "OP1")  # type: ignore[arg-type]


def writer(path: Path, chart: str, count: int) -> subprocess.Popen[str]:
    """Start another process that appends *count* entries of three signals each."""
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path), chart, str(count)],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": SOURCE},
    )


def test_entries_come_back_in_order(tmp_path: Path) -> None:
    """Numbers count up; another baseline's entries stay apart."""
    history = History(tmp_path / "h.sqlite")
    assert history.events() == ()
    history.add([event("R1"), event("R2")])
    history.add([event("R2", "acknowledge", "2")])
    assert [one.number for one in history.events("b")] == [1, 2, 3]
    assert history.events("other") == ()


def test_a_signal_is_kept_once(tmp_path: Path) -> None:
    """Looking again adds nothing and uses up no number; a reset may be noted twice."""
    history = History(tmp_path / "h.sqlite")
    for _ in range(2):
        history.add([event("R1"), event("R1", "reset", "all")])
    assert [one.kind for one in history.events()] == ["signal", "reset", "reset"]
    assert [one.number for one in history.events()] == [1, 2, 3]


@pytest.mark.parametrize("statement", ["UPDATE events SET said = 'x'", "DELETE FROM events"])
def test_entries_are_never_changed(tmp_path: Path, statement: str) -> None:
    """The file itself refuses."""
    history = History(tmp_path / "h.sqlite")
    history.add([event("R1")])
    with (
        closing(sqlite3.connect(history.path)) as connection,
        pytest.raises(sqlite3.IntegrityError, match="never changed"),
    ):
        connection.execute(statement)


def test_a_file_that_is_no_history(tmp_path: Path) -> None:
    """One sentence, and the file is left as it was."""
    path = tmp_path / "notes.txt"
    path.write_text("mine " * 400, encoding="utf-8")
    with pytest.raises(LogError, match="the history cannot be used"):
        History(path).add([event("R1")])
    assert path.read_text(encoding="utf-8") == "mine " * 400


def test_two_processes_take_turns(tmp_path: Path) -> None:
    """Both write 15 times; nothing is lost."""
    path = tmp_path / "h.sqlite"
    both = [writer(path, name, 15) for name in ("one", "two")]
    for process in both:
        process.communicate(timeout=60)
        assert process.returncode == 0
    assert len(History(path).events()) == 2 * 15 * 3


@pytest.mark.parametrize("seconds", [0.0, 0.013, 0.031, 0.057, 0.083, 0.12])
def test_a_killed_writer_loses_nothing(tmp_path: Path, seconds: float) -> None:
    """Kill -9 at any moment: whole entries only, and all that were reported written."""
    path = tmp_path / "h.sqlite"
    process = writer(path, "one", 100_000)
    assert process.stdout is not None
    process.stdout.readline()
    time.sleep(seconds)
    process.send_signal(signal.SIGKILL)
    reported = 1 + len(process.stdout.read().splitlines())
    process.wait()
    process.stdout.close()
    events = History(path).events()
    assert len(events) % 3 == 0, "an entry of three signals is there whole or not at all"
    assert reported <= len(events) // 3 <= reported + 1
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    History(path).add([event("R1")])
    assert len(History(path).events()) == len(events) + 1
