"""A column of dates -> moments, telling what was assumed."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from weakstep.runlog.column import Column
from weakstep.runlog.dates import ISO, DateCell, DayOrder, day_order, moment_of, read_date
from weakstep.runlog.marks import DITTO_WORDS, MISSING_WORDS
from weakstep.runlog.texts import Texts

if TYPE_CHECKING:
    import numpy as np

_CLOCK_ONLY = re.compile(r"\d{1,2}[:.h]\d{2}(?::\d{2})?\s*(?:[ap]\.?m\.?)?", re.IGNORECASE)


def time_column(column: Column) -> np.ndarray:
    """
    Read a column of dates.

    Returns
    -------
    array of datetime64[ns], shape (n_rows,)
        NaT where there is none.
    """
    import numpy as np

    iso = _all_iso(column.texts)
    if iso is not None:
        plain: np.ndarray = iso[column.texts.codes]
        return plain
    cells = _read(column.texts.distinct)
    order, evidence = _order(column, cells)
    _tell_order(column, cells, order, evidence)
    known = [None if cell is None else moment_of(cell, order) for cell in cells]
    moments_of = np.array([*known, None], dtype="datetime64[us]").astype("datetime64[ns]")
    moments: np.ndarray = moments_of[column.texts.codes]
    for row, moment in column.fill_ditto(moments):
        shown = "missing" if np.isnat(moment) else str(moment)[:16].replace("T", " ")
        column.care(row, shown, "same as the row above")
    _tell_readings(column, cells, known, evidence)
    return moments


def _all_iso(column: Texts) -> np.ndarray | None:
    """Return moments of dates that are all written as 2026-03-31 or with a time; None if not."""
    import numpy as np

    used = column.counts() > 0
    texts = [text if is_used else "" for text, is_used in zip(column.distinct, used, strict=True)]
    if not all(map(ISO.fullmatch, filter(None, texts))):
        return None
    try:
        moments = np.array([*(text or "NaT" for text in texts), "NaT"], dtype="datetime64[s]")
    except ValueError:  # 2026-02-30
        return None
    years = moments.astype("datetime64[Y]")
    far = (years < np.datetime64("1950")) | (years > np.datetime64("2100"))
    return None if far.any() else moments.astype("datetime64[ns]")


def _order(column: Column, cells: Sequence[DateCell | None]) -> tuple[DayOrder, str]:
    """Decide the order of day and month, which takes the rows in turn only when it matters."""
    if all(cell is None or cell.day_first == cell.month_first for cell in cells):
        return "day first", "dates"
    return day_order(column.texts.spread(cells, None).tolist())


def _read(texts: Sequence[str]) -> list[DateCell | None]:
    """Read all texts, and those without a year again with the year the others agree on."""
    cells = [read_date(text) if text else None for text in texts]
    years = Counter(cell.day_first.year for cell in cells if cell is not None and cell.day_first)
    if len(years) == 1:
        year = next(iter(years))
        for code, text in enumerate(texts):
            if text and cells[code] is None:
                cells[code] = read_date(text, year)
    return cells


def _tell_order(
    column: Column, cells: Sequence[DateCell | None], order: DayOrder, evidence: str
) -> None:
    undecided = [code for code, cell in enumerate(cells) if cell is not None and cell.undecided]
    rows = [row for row, _ in column.rows_by_text(undecided)]
    against = [code for code, cell in enumerate(cells) if cell and not _fits(cell, order)]
    if rows and evidence != "dates":
        because = (
            "so the rows follow each other in time"
            if evidence == "order"
            else "although the file does not show which it is"
        )
        column.question(
            rows[0],
            "unclear_date_order",
            f"{len(rows)} dates could be day first or month first; "
            f"they were read {order}, {because}.",
            "Write dates as 2026-03-31, or tell the keeper of the file.",
        )
    fixed = [
        cell for cell in cells if cell and (cell.day_first is None) != (cell.month_first is None)
    ]
    if against and len(against) < len(fixed):
        column.of_all(
            "contradictory_dates",
            "Some dates can only be day first and some only month first; those that could be "
            f"either were read {order}.",
            "Write all dates of the file as 2026-03-31.",
        )
    for row, _ in column.rows_by_text(against):
        column.question(
            row,
            "mixed_date_order",
            f"The other dates of the file were read {order}; this one can only be the other way.",
            "Write dates as 2026-03-31.",
        )


def _fits(cell: DateCell, order: DayOrder) -> bool:
    return (cell.day_first if order == "day first" else cell.month_first) is not None


def _tell_readings(
    column: Column,
    cells: Sequence[DateCell | None],
    moments: Sequence[datetime | None],
    evidence: str,
) -> None:
    """Tell dates that are not plain ones, words that stand for nothing, and what is no date."""
    careful: list[int] = []
    wrong: list[int] = []
    nothing: list[int] = []
    reasons = ["" if cell is None else _reason(cell, evidence) for cell in cells]
    for code, text in enumerate(column.texts.distinct):
        word = text.casefold()
        if moments[code] is not None:
            if reasons[code]:
                careful.append(code)
        elif word and word not in DITTO_WORDS:
            (nothing if word in MISSING_WORDS else wrong).append(code)
    for row, code in column.rows_by_text(careful):
        moment = moments[code]
        if moment is not None:
            column.care(row, moment.isoformat(" ", "minutes"), reasons[code])
    for row, _ in column.rows_by_text(nothing):
        column.care(row, "missing", "stands for a missing value")
    for row, code in column.rows_by_text(wrong):
        _tell_no_date(column, row, column.texts.distinct[code])


def _reason(cell: DateCell, evidence: str) -> str:
    if cell.undecided and evidence != "dates":
        return "the order of day and month is assumed"
    return cell.why


def _tell_no_date(column: Column, row: int, text: str) -> None:
    message = "Expected a date; the cell counts as missing."
    if _CLOCK_ONLY.fullmatch(text):
        message = "A time of day without its date; the cell counts as missing."
    column.missing(row, "not_a_date", message, "Write it as 2026-03-31 or 2026-03-31 14:05.")
