"""A column of dates -> moments, telling what was assumed."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from weakstep.runlog.dates import DateCell, DayOrder, day_order, moment_of, read_date
from weakstep.runlog.findings import Findings
from weakstep.runlog.marks import DITTO_WORDS, MISSING_WORDS

if TYPE_CHECKING:
    import numpy as np

_CLOCK_ONLY = re.compile(r"\d{1,2}[:.h]\d{2}(?::\d{2})?\s*(?:[ap]\.?m\.?)?", re.IGNORECASE)


def time_column(
    texts: Sequence[str], lines: Sequence[int], file: str, header: str, findings: Findings
) -> np.ndarray:
    """
    Read a column of dates.

    Returns
    -------
    array of datetime64[ns], shape (n_rows,)
        NaT where there is none.
    """
    import numpy as np

    cells = _read(texts)
    order, evidence = day_order(cells)
    _tell_order(cells, order, evidence, texts, lines, file, header, findings)
    moments = np.full(len(texts), np.datetime64("NaT"), dtype="datetime64[ns]")
    for row, (text, cell) in enumerate(zip(texts, cells, strict=True)):
        word = text.casefold()
        moment = None if cell is None else moment_of(cell, order)
        if moment is not None:
            moments[row] = np.datetime64(moment, "ns")
            _tell_reading(cell, moment, evidence, text, lines[row], file, header, findings)
        elif word in DITTO_WORDS and row > 0:
            moments[row] = moments[row - 1]
            shown = str(moments[row])[:16].replace("T", " ")
            findings.care(file, lines[row], header, text, shown, "same as the row above")
        elif word not in MISSING_WORDS:
            _tell_no_date(text, lines[row], file, header, findings)
        elif text:
            findings.care(file, lines[row], header, text, "missing", "stands for a missing value")
    return moments


def _read(texts: Sequence[str]) -> list[DateCell | None]:
    """Read all cells, and those without a year again with the year the others agree on."""
    known = {text: read_date(text) for text in set(texts) if text}
    years = Counter(
        cell.day_first.year for cell in known.values() if cell is not None and cell.day_first
    )
    if len(years) == 1:
        year = next(iter(years))
        for text, cell in known.items():
            if cell is None:
                known[text] = read_date(text, year)
    return [known.get(text) for text in texts]


def _tell_order(
    cells: Sequence[DateCell | None],
    order: DayOrder,
    evidence: str,
    texts: Sequence[str],
    lines: Sequence[int],
    file: str,
    header: str,
    findings: Findings,
) -> None:
    undecided = [row for row, cell in enumerate(cells) if cell is not None and cell.undecided]
    against = [row for row, cell in enumerate(cells) if cell is not None and not _fits(cell, order)]
    if undecided and evidence != "dates":
        because = (
            "so the rows follow each other in time"
            if evidence == "order"
            else "although the file does not show which it is"
        )
        row = undecided[0]
        findings.problem(
            "unclear_date_order",
            "question",
            f"{len(undecided)} dates could be day first or month first; "
            f"they were read {order}, {because}.",
            "Write dates as 2026-03-31, or tell the keeper of the file.",
            file=file,
            line=lines[row],
            column=header,
            found=texts[row],
        )
    for row in against:
        findings.problem(
            "mixed_date_order",
            "question",
            f"The other dates of the file were read {order}; this one can only be the other way.",
            "Write dates as 2026-03-31.",
            file=file,
            line=lines[row],
            column=header,
            found=texts[row],
        )


def _fits(cell: DateCell, order: DayOrder) -> bool:
    return (cell.day_first if order == "day first" else cell.month_first) is not None


def _tell_reading(
    cell: DateCell | None,
    moment: datetime,
    evidence: str,
    text: str,
    line: int,
    file: str,
    header: str,
    findings: Findings,
) -> None:
    why = "" if cell is None else cell.why
    if cell is not None and cell.undecided and evidence != "dates":
        why = "the order of day and month is assumed"
    if why:
        findings.care(file, line, header, text, moment.isoformat(" ", "minutes"), why)


def _tell_no_date(text: str, line: int, file: str, header: str, findings: Findings) -> None:
    message = "Expected a date; the cell counts as missing."
    if _CLOCK_ONLY.fullmatch(text):
        message = "A time of day without its date; the cell counts as missing."
    findings.problem(
        "not_a_date",
        "cell_missing",
        message,
        "Write it as 2026-03-31 or 2026-03-31 14:05.",
        file=file,
        line=line,
        column=header,
        found=text,
    )
