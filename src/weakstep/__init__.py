"""
weakstep: which step of a bench process to tighten first, by how much and how surely.

The whole job in five lines::

    from weakstep import load_process, read_log, review, write_report

    process = load_process()  # or load_process("my_process.toml")
    log = read_log("logs", process)
    result = review(log)
    page = write_report(result, "out")

Names are imported on first use, so that `import weakstep` stays fast.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from weakstep.process.load import load_process as load_process
    from weakstep.report.write import write_report as write_report
    from weakstep.reviewing import Review as Review
    from weakstep.reviewing import review as review
    from weakstep.runlog.model import RunLog as RunLog
    from weakstep.runlog.read import read_log as read_log

__version__ = "0.1.0"

_HOME = {
    "load_process": "weakstep.process.load",
    "read_log": "weakstep.runlog.read",
    "RunLog": "weakstep.runlog.model",
    "review": "weakstep.reviewing",
    "Review": "weakstep.reviewing",
    "write_report": "weakstep.report.write",
}

__all__ = ["Review", "RunLog", "__version__", "load_process", "read_log", "review", "write_report"]


def __getattr__(name: str) -> object:
    if name not in _HOME:
        message = f"weakstep has no name {name!r}; it offers {', '.join(sorted(_HOME))}"
        raise AttributeError(message)
    return getattr(import_module(_HOME[name]), name)


def __dir__() -> list[str]:
    return __all__
