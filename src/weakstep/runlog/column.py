"""One column of one file on its way to typed values."""

from __future__ import annotations

from collections.abc import Sequence

from weakstep.process.model import Parameter
from weakstep.runlog.cells import Expected
from weakstep.runlog.findings import Findings
from weakstep.runlog.model import ColumnMatch, Severity
from weakstep.runlog.sheets import Sheet


class Column:
    """One column of one file on its way to typed values."""

    def __init__(
        self,
        sheet: Sheet,
        match: ColumnMatch,
        parameter: Parameter,
        texts: Sequence[str],
        lines: Sequence[int],
        findings: Findings,
    ) -> None:
        self.file = sheet.file
        self.header = match.header
        self.parameter = parameter
        self.texts = texts
        self.lines = lines
        self.findings = findings
        self.expected = Expected(
            parameter.unit, match.unit_read, sheet.decimal_comma, parameter.interchangeable
        )

    def as_written(self) -> list[str]:
        """Return the texts with their spaces tidied."""
        return [" ".join(text.split()) for text in self.texts]

    def care(self, row: int, taken_as: str, why: str) -> None:
        """Note how a cell was read."""
        self.findings.care(self.file, self.lines[row], self.header, self.texts[row], taken_as, why)

    def missing(self, row: int, code: str, message: str, action: str) -> None:
        """Note a cell that counts as missing."""
        self._problem(row, code, "cell_missing", message, action)

    def question(self, row: int, code: str, message: str, action: str) -> None:
        """Ask about a cell that is used as read."""
        self._problem(row, code, "question", message, action)

    def _problem(self, row: int, code: str, severity: Severity, message: str, action: str) -> None:
        self.findings.problem(
            code,
            severity,
            message,
            action,
            file=self.file,
            line=self.lines[row],
            column=self.header,
            found=self.texts[row],
        )
