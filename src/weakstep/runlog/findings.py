"""Where the parts of the reader put what they find, until the log is finished."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from weakstep.runlog.model import Bound, CareReading, Problem, Severity

_ORDER: dict[Severity, int] = {"set_aside": 0, "cell_missing": 1, "question": 2, "note": 3}
_LONGEST = 80


def shortened(text: str) -> str:
    """Return *text* on one line of at most 80 characters."""
    line = " ".join(text.split())
    return line if len(line) <= _LONGEST else line[: _LONGEST - 1] + "…"


class Findings:
    """Problems and careful readings of one log, in the order they were found."""

    def __init__(self) -> None:
        self._problems: list[Problem] = []
        self._care: list[CareReading] = []
        self._bounds: list[Bound] = []
        self._accepted: set[tuple[str, int | None, str]] = set()

    def problem(
        self,
        code: str,
        severity: Severity,
        message: str,
        action: str,
        *,
        file: str,
        line: int | None = None,
        column: str | None = None,
        found: str | None = None,
    ) -> None:
        """Note one problem."""
        short = None if found is None else shortened(found)
        self._problems.append(Problem(file, line, column, short, code, message, action, severity))

    def add(self, problem: Problem) -> None:
        """Note a problem that is there already."""
        self._problems.append(problem)

    def care(self, file: str, line: int, column: str, found: str, taken_as: str, why: str) -> None:
        """Note one cell that is not the plain value it shows."""
        self._care.append(CareReading(file, line, column, shortened(found), taken_as, why))

    def bound(self, bound: Bound) -> None:
        """Note one cell that only bounds its value."""
        self._bounds.append(bound)

    def accept(self, file: str, line: int, codes: Iterable[str]) -> None:
        """Note that questions of these kinds on a line, or on the whole file, were looked at."""
        for code in codes:
            self._accepted |= {(file, line, code), (file, None, code)}

    def _settled(self, problem: Problem) -> Problem:
        key = (problem.file, problem.line, problem.code)
        if problem.severity != "question" or key not in self._accepted:
            return problem
        return replace(problem, severity="note", action="It was accepted in the log.")

    def problems(self) -> tuple[Problem, ...]:
        """Return the problems, worst first, then by file and line."""
        return tuple(
            sorted(
                map(self._settled, self._problems),
                key=lambda p: (_ORDER[p.severity], p.file, p.line or 0),
            )
        )

    def readings(self) -> tuple[CareReading, ...]:
        """Return the careful readings by file and line."""
        return tuple(sorted(self._care, key=lambda c: (c.file, c.line)))

    def bounds(self) -> tuple[Bound, ...]:
        """Return the bounds by file and line."""
        return tuple(sorted(self._bounds, key=lambda b: (b.file, b.line)))
