"""The history file: it only grows, two may write, and a killed writer loses nothing."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
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


def other_programme(path: Path, table: str) -> None:
    """Write a database that is none of ours."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"CREATE TABLE {table} (a)")
        connection.execute(f"INSERT INTO {table} VALUES (1)")
        connection.commit()


@pytest.mark.parametrize(
    "make",
    [
        lambda path: path.write_bytes(b"x"),
        lambda path: path.write_bytes(b"SQLite format 3\0"),
        lambda path: path.write_bytes(b"mine " * 400),
        lambda path: other_programme(path, "notes"),
        lambda path: other_programme(path, "events"),
    ],
    ids=["one byte", "cut short", "text", "other tables", "other events"],
)
def test_a_file_that_is_no_history(tmp_path: Path, make: Callable[[Path], None]) -> None:
    """One sentence that names it, whether read or written, and the file is left as it was."""
    path = tmp_path / "notes.sqlite"
    make(path)
    before = path.read_bytes()
    said = r"notes\.sqlite: the history cannot be used: it is no history .* Name another file"
    with pytest.raises(LogError, match=said):
        History(path).events()
    with pytest.raises(LogError, match=said):
        History(path).add([event("R1")])
    assert path.read_bytes() == before


def test_an_empty_file_is_a_new_history(tmp_path: Path) -> None:
    """A process killed between making the file and its first entry leaves one."""
    path = tmp_path / "h.sqlite"
    path.touch()
    assert History(path).events() == ()
    History(path).add([event("R1")])
    assert len(History(path).events()) == 1


def test_a_damaged_history(tmp_path: Path) -> None:
    """Cut in half: one sentence, and it is left as it was."""
    path = tmp_path / "h.sqlite"
    History(path).add([event(f"R{run}") for run in range(200)])
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    before = path.read_bytes()
    with pytest.raises(LogError, match=r"it is damaged\. Put a copy back"):
        History(path).add([event("R1")])
    assert path.read_bytes() == before


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    """One sentence; a history that is not there has no entries."""
    history = History(tmp_path / "away" / "h.sqlite")
    assert history.events() == ()
    with pytest.raises(LogError, match="neither opened nor made there: see whether the folder"):
        history.add([event("R1")])


def test_a_history_that_another_program_holds(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once the wait is over one sentence says so; nothing is lost."""
    history = History(tmp_path / "h.sqlite")
    history.add([event("R1")])
    monkeypatch.setattr("weakstep.watching.history._WAIT", 0.1)
    with closing(sqlite3.connect(history.path, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(LogError, match="another program has held it"):
            history.add([event("R2")])
        other.execute("ROLLBACK")
    history.add([event("R2")])
    assert [one.run for one in history.events()] == ["R1", "R2"]


def test_a_full_disk(tmp_path: Path) -> None:
    """No file may grow beyond 20 kB: the entry that does not fit fails whole, the others stay."""
    full = """
import resource, signal, sys
from weakstep.errors import LogError
from weakstep.watching.history import Event, History
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))
history = History(sys.argv[1])
try:
    for number in range(100):
        history.add([Event(0, "", "b", "signal", "c", f"R{number}", "said " * 200, "")])
except LogError as reason:
    print(number, reason)
"""
    path = tmp_path / "h.sqlite"
    done = subprocess.run(
        [sys.executable, "-c", full, str(path)],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": SOURCE},
    )
    number, _, said = done.stdout.partition(" ")
    assert int(number) > 0
    assert said.startswith(f"{path}: the history cannot be used: the disk ")
    assert len(History(path).events()) == int(number)


def test_several_processes_take_turns(tmp_path: Path) -> None:
    """Six make the file at once and write 15 times each; nothing is lost, no number is twice."""
    path = tmp_path / "h.sqlite"
    processes = [writer(path, f"writer {one}", 15) for one in range(6)]
    for process in processes:
        process.communicate(timeout=120)
        assert process.returncode == 0
    events = History(path).events()
    assert len(events) == 6 * 15 * 3
    assert [one.number for one in events] == list(range(1, len(events) + 1))


DYING = """
import os, signal, sqlite3, sys
from weakstep.watching.history import Event, History
history = History(sys.argv[1])
history.add([Event(0, "", "b", "signal", "c", "first", "said", "")])
connect = sqlite3.connect
def dying(*words, **options):
    connection = connect(*words, **options)
    connection.execute("PRAGMA cache_size = 1")  # pages go to the file before the entry is whole
    connection.execute("PRAGMA cache_spill = 1")
    def die(statement):
        if statement == "COMMIT":
            os.kill(os.getpid(), signal.SIGKILL)
    connection.set_trace_callback(die)
    return connection
sqlite3.connect = dying
history.add([Event(0, "", "b", "signal", "c", f"R{k}", "said " * 400, "") for k in range(50)])
"""


def test_an_entry_that_is_half_in_the_file_is_taken_back(tmp_path: Path) -> None:
    """Killed before the commit, when the file has grown: the journal undoes it, nothing else."""
    path = tmp_path / "h.sqlite"
    died = subprocess.run(
        [sys.executable, "-c", DYING, str(path)],
        check=False,
        env={**os.environ, "PYTHONPATH": SOURCE},
    )
    assert died.returncode == -signal.SIGKILL
    assert path.with_name("h.sqlite-journal").stat().st_size > 0
    assert b"said said" in path.read_bytes(), "half of the entry is in the file"
    assert [one.run for one in History(path).events()] == ["first"]
    History(path).add([event("R1")])
    assert [one.run for one in History(path).events()] == ["first", "R1"]


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
