"""The rows of all files while they are being checked."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from weakstep.process.model import Process
from weakstep.runlog.findings import Findings
from weakstep.runlog.model import Severity
from weakstep.runlog.sheets import AsideRow
from weakstep.runlog.texts import ABSENT, Texts

if TYPE_CHECKING:
    import pandas as pd


class Work:
    """
    Typed rows and their texts, under one index.

    Parameters
    ----------
    process : Process
    typed : DataFrame
        One row per data row with `file`, `line` and a typed column per parameter found; changed in
        place until the log is finished. Rows keep the number they have in `texts`.
    texts : mapping of str to Texts
        The columns as written.
    headers : mapping of (file, parameter) to str
        How each file writes the header of a column.
    findings : Findings
    """

    def __init__(
        self,
        process: Process,
        typed: pd.DataFrame,
        texts: Mapping[str, Texts],
        headers: Mapping[tuple[str, str], str],
        findings: Findings,
    ) -> None:
        self.process = process
        self.typed = typed
        self.texts = texts
        self.findings = findings
        self.aside: list[AsideRow] = []
        self._headers = headers
        self._files = typed["file"].to_numpy(dtype=object)
        self._lines = typed["line"].to_numpy(dtype=int)

    def has(self, column: str) -> bool:
        """Whether any file carries the column."""
        return column in self.typed.columns

    def header(self, file: str, column: str) -> str:
        """Return the header of a column as *file* writes it, else "name (computed)"."""
        return self._headers.get((file, column), f"{column} (computed)")

    def place(self, row: int) -> tuple[str, int]:
        """Return file and line of a row."""
        return str(self._files[row]), int(self._lines[row])

    def text(self, row: int, column: str) -> str | None:
        """Return the cell as written, None when it is empty or the column was computed."""
        return (self.texts[column][row] or None) if column in self.texts else None

    def problem(
        self,
        row: int,
        column: str | None,
        code: str,
        severity: Severity,
        message: str,
        action: str,
        found: str | None = None,
    ) -> None:
        """Note a problem of one cell or, without a column, one row."""
        file, line = self.place(row)
        self.findings.problem(
            code,
            severity,
            message,
            action,
            file=file,
            line=line,
            column=None if column is None else self.header(file, column),
            found=found if column is None else found or self.text(row, column),
        )

    def set_aside(self, rows: Iterable[int], reason: str) -> None:
        """Take rows out of the log and keep their texts with the reason."""
        gone = list(rows)
        if not gone:
            return
        for row in gone:
            file, line = self.place(row)
            cells = {
                self.header(file, column): texts[row]
                for column, texts in self.texts.items()
                if texts.codes[row] != ABSENT
            }
            self.aside.append(AsideRow(file, line, reason, cells))
        self.typed = self.typed.drop(index=gone)
