"""
The errors weakstep raises for its users.

WeakstepError
 ├── ProcessError     a process description cannot be used (names file and key)
 ├── LogError         a log cannot be read at all (names file, says what to do)
 ├── NotEnoughError   too few runs, chips or failures for what was asked
 └── OutputError      a report cannot be written where it was asked for

Each message is one clear sentence or two: what was wrong, where, what was found,
what to do. The command line prints the message and never a traceback.
"""

from __future__ import annotations


class WeakstepError(Exception):
    """Base of every error that a user of weakstep can cause and mend."""


class ProcessError(WeakstepError):
    """A process description is missing, unreadable or contradicts itself."""


class LogError(WeakstepError):
    """A log file cannot be used at all; single bad cells are Problems instead."""


class NotEnoughError(WeakstepError):
    """There is too little data for what was asked; says how much is needed."""


class OutputError(WeakstepError):
    """The report cannot be written to the place that was asked for."""
