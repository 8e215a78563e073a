"""What was signalled, acknowledged and reset: an SQLite file that only grows."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from weakstep.errors import LogError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

FILE = "weakstep-history.sqlite"
EventKind = Literal["signal", "acknowledge", "reset"]
_WAIT = 30.0  # seconds for the other person's write to end
_MAGIC, _HEADER = b"SQLite format 3\0", 100  # how every SQLite file begins; bytes of its header
_COLUMNS = ("id", "at", "baseline", "kind", "chart", "run", "said", "who")
_ELSEWHERE = "Name another file with --history."
_NO_HISTORY = f"it is no history that 'weakstep watch' wrote. {_ELSEWHERE}"
_REASONS = {
    sqlite3.SQLITE_BUSY: f"another program has held it for {_WAIT:.0f} s. Close it there, or wait.",
    sqlite3.SQLITE_CANTOPEN: "it can be neither opened nor made there: see whether the folder "
    f"exists and may be written in. {_ELSEWHERE}",
    sqlite3.SQLITE_READONLY: f"it may be read only. {_ELSEWHERE}",
    sqlite3.SQLITE_FULL: "the disk is full. Make room, and look again: nothing was half written.",
    sqlite3.SQLITE_IOERR: f"the disk fails: see whether it is full or away. {_ELSEWHERE}",
    sqlite3.SQLITE_NOTADB: _NO_HISTORY,
    sqlite3.SQLITE_CORRUPT: "it is damaged. Put a copy back, or name another file with --history; "
    "signals are then told anew.",
}
_SCHEMA = """
CREATE TABLE IF NOT EXISTS events (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    at TEXT NOT NULL,
    baseline TEXT NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('signal', 'acknowledge', 'reset')),
    chart TEXT NOT NULL,
    run TEXT NOT NULL,
    said TEXT NOT NULL,
    who TEXT NOT NULL
);
CREATE UNIQUE INDEX IF NOT EXISTS one_signal ON events (baseline, chart, run)
    WHERE kind = 'signal';
CREATE TRIGGER IF NOT EXISTS never_changed BEFORE UPDATE ON events
    BEGIN SELECT RAISE(ABORT, 'the history is never changed'); END;
CREATE TRIGGER IF NOT EXISTS never_deleted BEFORE DELETE ON events
    BEGIN SELECT RAISE(ABORT, 'the history is never changed'); END;
"""


@dataclass(frozen=True)
class Event:
    """
    One entry of the history.

    Attributes
    ----------
    number : int
        Counts up; what an acknowledgement refers to.
    at : str
        ISO time of the entry.
    baseline : str
        Hash of the baseline watched against.
    kind : EventKind
    chart : str
        Column, "failures", "joint", or "all" for a reset; of an acknowledgement, the number of the
        signal.
    run : str
        Run the signal came at, or after which charts start anew.
    said, who : str
        Sentence or note; who acknowledged or reset.
    """

    number: int
    at: str
    baseline: str
    kind: EventKind
    chart: str
    run: str
    said: str
    who: str


class History:
    """
    The history file; every entry is on the disk before the call returns.

    Entries are written in one transaction each with a rollback journal and full synchronisation: a
    process killed at any moment leaves the file as it was before or after an entry. Two processes
    take turns. Triggers refuse to change or delete entries.
    """

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)

    def _connect(self) -> sqlite3.Connection:
        self._refuse_what_is_no_database()
        connection = sqlite3.connect(self.path, timeout=_WAIT, isolation_level=None)
        try:
            connection.execute("PRAGMA synchronous = FULL")
            tables = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
            names = {name for (name,) in tables}
            columns = connection.execute("SELECT name FROM pragma_table_info('events')")
            if not names:
                connection.executescript("BEGIN IMMEDIATE;" + _SCHEMA + "COMMIT;")
            elif not {name for (name,) in columns}.issuperset(_COLUMNS):
                raise self._unusable(_NO_HISTORY)
        except (sqlite3.Error, LogError):
            connection.close()
            raise
        return connection

    def _refuse_what_is_no_database(self) -> None:
        """SQLite takes a file shorter than its header for a new one, and would write over it."""
        try:
            with self.path.open("rb") as stream:
                found = stream.read(_HEADER)
        except OSError:  # not there yet, or for SQLite to refuse
            return
        # A file without any byte is what a process leaves that was killed before its first entry.
        if found and (len(found) < _HEADER or not found.startswith(_MAGIC)):
            raise self._unusable(_NO_HISTORY)

    def add(self, events: Iterable[Event]) -> None:
        """
        Append entries, all or none; a signal that is already there is left out.

        The numbers of *events* are not used: the file counts.

        Raises
        ------
        LogError
            The file cannot be used.
        """
        rows = [(e.at, e.baseline, e.kind, e.chart, e.run, e.said, e.who) for e in events]
        if not rows:
            return
        try:
            with closing(self._connect()) as connection:
                connection.execute("BEGIN IMMEDIATE")
                connection.executemany(
                    "INSERT INTO events (at, baseline, kind, chart, run, said, who) "
                    "SELECT ?1, ?2, ?3, ?4, ?5, ?6, ?7 WHERE ?3 != 'signal' OR NOT EXISTS "
                    "(SELECT 1 FROM events WHERE kind = 'signal' "
                    "AND baseline = ?2 AND chart = ?4 AND run = ?5)",
                    rows,
                )
                connection.execute("COMMIT")
        except sqlite3.Error as reason:
            raise self._unusable(_why(reason)) from reason

    def events(self, baseline: str | None = None) -> tuple[Event, ...]:
        """
        Return all entries, or those of one baseline, oldest first.

        Raises
        ------
        LogError
            The file cannot be used.
        """
        if not self.path.exists():
            return ()
        try:
            with closing(self._connect()) as connection:
                return tuple(
                    event
                    for event in _read(connection)
                    if baseline is None or event.baseline == baseline
                )
        except sqlite3.Error as reason:
            raise self._unusable(_why(reason)) from reason

    def _unusable(self, why: str) -> LogError:
        return LogError(f"{self.path}: the history cannot be used: {why}")


def _why(reason: sqlite3.Error) -> str:
    code = getattr(reason, "sqlite_errorcode", 0) & 0xFF  # without what it says in addition
    return _REASONS.get(code, f"{reason}. {_ELSEWHERE}")


def _read(connection: sqlite3.Connection) -> Iterator[Event]:
    for row in connection.execute(f"SELECT {', '.join(_COLUMNS)} FROM events ORDER BY id"):
        yield Event(*row)
