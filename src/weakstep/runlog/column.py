"""One column of one file on its way to typed values."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from weakstep.process.model import Parameter
from weakstep.runlog.cells import Expected, Side
from weakstep.runlog.columns import is_absolute
from weakstep.runlog.findings import Findings
from weakstep.runlog.marks import DITTO_FORMS
from weakstep.runlog.model import Bound, ColumnMatch, Severity
from weakstep.runlog.sheets import Sheet
from weakstep.runlog.texts import Texts

if TYPE_CHECKING:
    import numpy as np


class Column:
    """One column of one file on its way to typed values."""

    def __init__(
        self,
        sheet: Sheet,
        match: ColumnMatch,
        parameter: Parameter,
        texts: Texts,
        findings: Findings,
    ) -> None:
        self.file = sheet.file
        self.header = match.header
        self.parameter = parameter
        self.texts = texts
        self.lines = sheet.lines
        self.findings = findings
        self.expected = Expected(
            parameter.unit,
            match.unit_read,
            sheet.decimal_comma,
            parameter.interchangeable,
            is_absolute(parameter),
        )

    def as_written(self) -> np.ndarray:
        """Return the texts with their spaces tidied."""
        return self.texts.spread([" ".join(text.split()) for text in self.texts.distinct])

    def rows_by_text(self, codes: list[int]) -> Iterator[tuple[int, int]]:
        """Return (row, code) of the rows that hold one of the texts with these codes."""
        import numpy as np

        chosen = np.zeros(len(self.texts.distinct) + 1, dtype=bool)
        chosen[codes] = True
        rows = np.flatnonzero(chosen[self.texts.codes])
        return zip(rows.tolist(), self.texts.codes[rows].tolist(), strict=True)

    def fill_ditto(self, values: np.ndarray) -> list[tuple[int, Any]]:
        """Write the value above into cells that say "the same"; return them, row by row."""
        ditto = [code for code, text in enumerate(self.texts.distinct) if text in DITTO_FORMS]
        filled = []
        for row, _ in self.rows_by_text(ditto):
            if row > 0:
                values[row] = values[row - 1]
            filled.append((row, values[row]))
        return filled

    def care(self, row: int, taken_as: str, why: str) -> None:
        """Note how a cell was read."""
        line = int(self.lines[row])
        self.findings.care(self.file, line, self.header, self.texts[row], taken_as, why)

    def bound(self, row: int, side: Side, value: float) -> None:
        """Keep what a cell says of a value that it does not state."""
        line, found = int(self.lines[row]), self.texts[row]
        self.findings.bound(Bound(self.file, line, self.parameter.name, side, value, found))

    def missing(self, row: int, code: str, message: str, action: str) -> None:
        """Note a cell that counts as missing."""
        self.problem(row, code, "cell_missing", message, action)

    def question(self, row: int, code: str, message: str, action: str) -> None:
        """Ask about a cell that is used as read."""
        self.problem(row, code, "question", message, action)

    def of_all(self, code: str, message: str, action: str) -> None:
        """Ask about the column as a whole."""
        self.findings.problem(code, "question", message, action, file=self.file, column=self.header)

    def problem(self, row: int, code: str, severity: Severity, message: str, action: str) -> None:
        """Note a problem of a cell."""
        self.findings.problem(
            code,
            severity,
            message,
            action,
            file=self.file,
            line=int(self.lines[row]),
            column=self.header,
            found=self.texts[row],
        )
