"""What reading a log gives: the checked rows, every problem, every cell read with care."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

    from weakstep.process.model import Process

Severity = Literal["set_aside", "cell_missing", "question", "note"]


@dataclass(frozen=True)
class Problem:
    """
    One finding about one cell, row, column or file.

    Attributes
    ----------
    file : str
        File name as given by the user (name only, not its folder).
    line : int or None
        Line of the file, counted from 1 with the header as line 1; None for a whole column or file.
    column : str or None
        The header text as the file writes it; None for a whole row or file.
    found : str or None
        The text found, shortened to 80 characters.
    code : str
        Stable word for programs, such as "out_of_range".
    message, action : str
        What is wrong, and what to do, a clear sentence each.
    severity : Severity
        set_aside: the row is out; cell_missing: the cell counts as missing; question: used as
        read, please look; note: worth knowing, nothing to mend.
    """

    file: str
    line: int | None
    column: str | None
    found: str | None
    code: str
    message: str
    action: str
    severity: Severity

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        column = f" column '{self.column}':" if self.column else ""
        found = f" found {self.found!r}." if self.found is not None else ""
        return f"{place}:{column}{found} {self.message} {self.action}".rstrip()


@dataclass(frozen=True)
class CareReading:
    """A cell that is not the plain number it shows: what was found, what it was taken for."""

    file: str
    line: int
    column: str
    found: str
    taken_as: str
    why: str


@dataclass(frozen=True)
class Bound:
    """
    A cell that says only on which side of a number a value lies, such as "<1 min".

    Attributes
    ----------
    file, line, found : str, int, str
    parameter : str
        Name of the column.
    side : {"below", "above"}
        Where the value lies.
    value : float
        The number, in the parameter's unit.
    """

    file: str
    line: int
    parameter: str
    side: Literal["below", "above"]
    value: float
    found: str


@dataclass(frozen=True)
class InputFile:
    """A file that was read: its name, the hash of its bytes, the rows it held, and its folder."""

    file: str
    sha256: str
    rows: int
    folder: str = ""


@dataclass(frozen=True)
class ColumnMatch:
    """How a header was matched: `parameter` is None when nothing fits and it was left alone."""

    file: str
    header: str
    parameter: str | None
    unit_read: str
    how: str


@dataclass(frozen=True, eq=False)
class RunTable:
    """
    The log with one row per run, in time order: the unit of every analysis.

    Attributes
    ----------
    run_id : array of str, shape (n_runs,)
    started_at : array of datetime64[ns], shape (n_runs,)
        NaT where unknown; rows without a time keep their place in the file.
    operator : array of str, shape (n_runs,)
        "" where unknown.
    week : array of int, shape (n_runs,)
        Weeks since the first run, from 0; all 0 when no run has a date.
    numbers : DataFrame, shape (n_runs, n_number_parameters)
        Mean over the run's chips (geometric mean for log-scale parameters); yes/no as share of
        yes; NaN where not logged. Only parameters that the log carries.
    categories : DataFrame, shape (n_runs, n_categories)
        The run's value; "several" when its chips differ; "" where not logged. Identity columns
        that group runs (mould, lot, machine, gas ...) and category parameters.
    tested : array of int, shape (n_runs,)
        Chips with a known outcome.
    failed : mapping of family name to array of int, shape (n_runs,)
        Chips that failed in that family.
    """

    run_id: np.ndarray
    started_at: np.ndarray
    operator: np.ndarray
    week: np.ndarray
    numbers: pd.DataFrame
    categories: pd.DataFrame
    tested: np.ndarray
    failed: Mapping[str, np.ndarray]

    def __len__(self) -> int:
        return len(self.run_id)

    def only(self, kept: np.ndarray) -> RunTable:
        """Return the runs for which *kept*, shape (n_runs,), is true."""
        return replace(
            self,
            run_id=self.run_id[kept],
            started_at=self.started_at[kept],
            operator=self.operator[kept],
            week=self.week[kept],
            numbers=self.numbers.loc[kept].reset_index(drop=True),
            categories=self.categories.loc[kept].reset_index(drop=True),
            tested=self.tested[kept],
            failed={name: counts[kept] for name, counts in self.failed.items()},
        )


@dataclass(frozen=True, eq=False)
class RunLog:
    """
    A checked log; build it with `weakstep.read_log`.

    Attributes
    ----------
    process : Process
    chips : DataFrame
        One row per chip (or per run with counts) that is used: a typed column per parameter found
        or computed, and `file`, `line` of its origin. Columns `made` and `failed` (int) count the
        chips a row stands for; `mode` is the outcome mode ("" for a counted row without modes).
    runs : RunTable
        The same, one row per run.
    problems : tuple of Problem
        Worst first.
    care : tuple of CareReading
    set_aside : DataFrame
        Rows kept out, as text as found, with `file`, `line`, `reason`.
    inputs : tuple of InputFile
    columns : tuple of ColumnMatch
    rows_read : int
        Data rows in all files; rows_read = len(chips) + len(set_aside).
    bounds : tuple of Bound
        Cells that only bound a value, by file and line. In `chips` such a cell is missing.
    """

    process: Process
    chips: pd.DataFrame
    runs: RunTable
    problems: tuple[Problem, ...]
    care: tuple[CareReading, ...]
    set_aside: pd.DataFrame
    inputs: tuple[InputFile, ...]
    columns: tuple[ColumnMatch, ...]
    rows_read: int
    bounds: tuple[Bound, ...] = ()

    def bounds_of(self, parameter: str, side: Literal["below", "above"]) -> np.ndarray:
        """
        Return the bounds that the cells of a column state, one per row of `chips`.

        Parameters
        ----------
        parameter : str
        side : {"below", "above"}
            Bounds that the value lies below (it is censored on the left), or above (on the right).

        Returns
        -------
        array of float, shape (n_chips,)
            In the parameter's unit; NaN where the cell states no such bound.
        """
        import numpy as np

        stated = {
            (bound.file, bound.line): bound.value
            for bound in self.bounds
            if bound.parameter == parameter and bound.side == side
        }
        values = np.full(len(self.chips), np.nan)
        if stated:
            places = zip(self.chips["file"], self.chips["line"], strict=True)
            values[:] = [stated.get((file, line), np.nan) for file, line in places]
        return values
