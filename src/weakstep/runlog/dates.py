"""Dates as people write them: the order of day and month is decided per file, by evidence."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Literal

DayOrder = Literal["day first", "month first"]

_MONTHS = {
    name: number
    for number, names in enumerate(
        (
            "jan january januar janv janvier ene enero",
            "feb february februar fév février fev febrero",
            "mar march märz mrz mär maerz mars marzo",
            "apr april avr avril abr abril",
            "may mai mayo",
            "jun june juni juin junio",
            "jul july juli juil juillet julio",
            "aug august août aout ago agosto",
            "sep sept september septembre septiembre",
            "oct october okt oktober octobre octubre",
            "nov november novembre noviembre",
            "dec december dez dezember déc décembre dic diciembre",
        ),
        start=1,
    )
    for name in names.split()
}
_CLOCK = (
    r"(?:(?:[T\s,]+|\s+(?:à|at|um|a las)\s+)"
    r"(?P<hour>\d{1,2})(?:[:h.](?P<minute>\d{2})|\s?h\b|(?=\s?[ap]\.?m))"
    r"(?::(?P<second>\d{2})(?:\.\d+)?)?"
    r"\s*(?P<half>[ap]\.?m\.?)?(?:\s*uhr)?\s*(?P<zone>Z|[+-]\d{2}:?\d{2})?)?"
)
ISO = re.compile(r"[12][0-9]{3}-[01][0-9]-[0-3][0-9](?:[ T][0-2][0-9]:[0-5][0-9](?::[0-5][0-9])?)?")
_YEAR_FIRST = re.compile(rf"(?P<y>\d{{4}})([-/.])(?P<m>\d{{1,2}})\2(?P<d>\d{{1,2}}){_CLOCK}", re.I)
_YEAR_LAST = re.compile(
    rf"(?P<a>\d{{1,2}})\s?(?P<sep>[-/.])\s?(?P<b>\d{{1,2}})\s?(?P=sep)\s?(?P<y>\d{{4}}|\d{{2}}){_CLOCK}",
    re.I,
)
_DAY_NAME = (
    r"(?:(?:mon|tue|wed|thu|fri|sat|sun|mo|di|mi|do|fr|sa|so|lun|mar|mer|jeu|ven|sam|dim|"
    r"mié|jue|vie|sáb|dom)\w*[,.]?\s+(?:den\s+|le\s+)?)?"
)
_NAMED = re.compile(
    rf"{_DAY_NAME}(?P<d>\d{{1,2}})(?:st|nd|rd|th|er|\.)?[\s-]*(?:de\s+)?"
    rf"(?P<name>[^\W\d_]+)\.?,?[\s-]*(?:del?\s+)?"
    rf"(?P<y>\d{{4}}|\d{{2}}(?![:h.\d]))?{_CLOCK}",
    re.I,
)
_NAME_FIRST = re.compile(
    rf"{_DAY_NAME}(?P<name>[^\W\d_]+)\.?\s+(?P<d>\d{{1,2}})(?:st|nd|rd|th)?,?"
    rf"(?:\s+(?P<y>\d{{4}}))?{_CLOCK}",
    re.I,
)
_COMPACT = re.compile(r"(?P<y>(?:19|20)\d{2})(?P<m>\d{2})(?P<d>\d{2})")
_SERIAL = re.compile(
    r"(?P<days>[2-7]\d{4}(?:[.,]\d+)?)(?: (?P<hour>\d{1,2}):(?P<minute>\d{2})(?::\d{2})?)?"
)
_SERIAL_ZERO = datetime(1899, 12, 30)  # day 0 of spreadsheets that count days
_YEARS = range(1950, 2101)


@dataclass(frozen=True)
class DateCell:
    """
    A date as written, before the order of day and month is known.

    Attributes
    ----------
    day_first, month_first : datetime or None
        The moment when read in that order; None where that is impossible.
    why : str
        Why it is not a plain date; empty when it is.
    """

    day_first: datetime | None
    month_first: datetime | None
    why: str = ""

    @property
    def undecided(self) -> bool:
        """Whether both orders give a date, and not the same one."""
        return (
            self.day_first is not None
            and self.month_first is not None
            and self.day_first != self.month_first
        )


def read_date(text: str, year: int | None = None) -> DateCell | None:
    """
    Read a date with or without a time of day; None when *text* is none.

    Parameters
    ----------
    text : str
    year : int, optional
        The year for a date that states none.

    Examples
    --------
    >>> read_date("03/04/25").undecided, read_date("3.4.2025 14:05").day_first
    (True, datetime.datetime(2025, 4, 3, 14, 5))
    """
    if ISO.fullmatch(text) and text[:4] >= "1950" and text[:4] <= "2100":
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            return None
        return DateCell(moment, moment)
    cell = " ".join(text.split())
    for pattern in (_YEAR_FIRST, _COMPACT):
        found = pattern.fullmatch(cell)
        if found is not None:
            return _same(_moment(int(found["y"]), int(found["m"]), int(found["d"]), found))
    found = _YEAR_LAST.fullmatch(cell)
    if found is not None:
        return _either(found)
    for pattern in (_NAMED, _NAME_FIRST):
        found = pattern.fullmatch(cell)
        if found is not None and found["name"].casefold() in _MONTHS:
            return _with_name(found, year)
    serial = _SERIAL.fullmatch(cell)
    if serial is not None:
        days = float(serial["days"].replace(",", "."))
        moment = _SERIAL_ZERO + timedelta(
            seconds=round(days * 86400),
            hours=int(serial["hour"] or 0),
            minutes=int(serial["minute"] or 0),
        )
        return _same(moment, "the day number of a spreadsheet")
    return None


def day_order(cells: Sequence[DateCell | None]) -> tuple[DayOrder, str]:
    """
    Decide the order of day and month for all dates of one file.

    Returns
    -------
    order : {"day first", "month first"}
    evidence : {"dates", "order", "none"}
        A date that allows one order only; else the order in which more rows follow each other
        in time; else none, and day first is assumed.
    """
    dated = [cell for cell in cells if cell is not None]
    only_day = sum(c.day_first is not None and c.month_first is None for c in dated)
    only_month = sum(c.month_first is not None and c.day_first is None for c in dated)
    if only_day != only_month and 0 in (only_day, only_month):
        return ("day first" if only_day else "month first"), "dates"
    back_day, back_month = _steps_back(dated, "day first"), _steps_back(dated, "month first")
    if back_day != back_month:
        return ("day first" if back_day < back_month else "month first"), "order"
    return "day first", "none"


def moment_of(cell: DateCell, order: DayOrder) -> datetime | None:
    """Return the moment of *cell* in the given order, in the other one when that is impossible."""
    if order == "day first":
        return cell.day_first or cell.month_first
    return cell.month_first or cell.day_first


def _steps_back(cells: Sequence[DateCell], order: DayOrder) -> int:
    moments = [moment for cell in cells if (moment := moment_of(cell, order)) is not None]
    return sum(later < earlier for earlier, later in pairwise(moments))


def _either(found: re.Match[str]) -> DateCell | None:
    first, second, year = int(found["a"]), int(found["b"]), _full_year(found["y"])
    day_first = _moment(year, second, first, found)
    # Dots between the numbers are the writing of countries that put the day first.
    month_first = day_first if found["sep"] == "." else _moment(year, first, second, found)
    if day_first is None and month_first is None:
        return None
    return DateCell(day_first, month_first)


def _with_name(found: re.Match[str], year: int | None) -> DateCell | None:
    month = _MONTHS[found["name"].casefold()]
    if found["y"] is not None:
        return _same(_moment(_full_year(found["y"]), month, int(found["d"]), found))
    if year is None:
        return None
    moment = _moment(year, month, int(found["d"]), found)
    return _same(moment, "the year is that of the other dates")


def _same(moment: datetime | None, why: str = "") -> DateCell | None:
    return None if moment is None else DateCell(moment, moment, why)


def _full_year(text: str) -> int:
    return int(text) if len(text) == 4 else 2000 + int(text)


def _moment(year: int, month: int, day: int, found: re.Match[str]) -> datetime | None:
    clock = found.groupdict()
    hour = int(clock.get("hour") or 0)
    half = (clock.get("half") or "").casefold().replace(".", "")
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "pm" else 0)
    if year not in _YEARS:
        return None
    try:
        return datetime(
            year, month, day, hour, int(clock.get("minute") or 0), int(clock.get("second") or 0)
        )
    except ValueError:
        return None
