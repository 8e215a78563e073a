"""The many writings of a mixing ratio."""

from __future__ import annotations

import re
from dataclasses import dataclass

_NUMBER = r"\d+(?:[.,]\d+)?"
_PARTS_WORD = r"(?:(?:parts?|pts?|teile?n?|parties?|partes?)\b\.?\s*)?"
_PAIR = re.compile(
    rf"(?P<first>{_NUMBER})\s*{_PARTS_WORD}(?P<sign>:|/|-|–|\+|to|zu|à|a|auf)\s*"
    rf"(?P<second>{_NUMBER})\s*{_PARTS_WORD}(?P<rest>.*)",
    re.IGNORECASE,
)
_CLOCK = re.compile(r"(?P<hours>\d{1,2}):(?P<minutes>\d{2})(?::00)?(?:\s*am)?", re.IGNORECASE)
_REST = re.compile(r"\s*:?\s*(?:\(?\s*(?:w/w|wt/wt|by (?:weight|mass)|m/m|wt)\s*\)?)?\s*", re.I)
_DAY_FRACTION = re.compile(r"0[.,]\d{4,}")
_PERCENT = re.compile(rf"({_NUMBER})\s*%")
_MINUTES_A_DAY = 1440
_MONTHS = [
    *("jan", "feb", "mar", "apr", "may", "jun"),
    *("jul", "aug", "sep", "oct", "nov", "dec"),
]
_NAME = "|".join(_MONTHS)
_DAY_AND_MONTH = re.compile(
    rf"(?P<d1>\d{{1,2}})[-. /](?P<n1>{_NAME})\w{{0,6}}(?:[-. /]\d{{2,4}})?|"
    rf"(?P<n2>{_NAME})\w{{0,6}}[-. /](?P<d2>\d{{1,2}})",
    re.IGNORECASE,
)
_ISO_DATE = re.compile(r"(?:19|20)\d{2}-(?P<a>\d{2})-(?P<b>\d{2})(?: 00:00(?::00)?)?")
_YEAR_LAST = re.compile(r"(?P<a>\d{1,2})[/.](?P<b>\d{1,2})[/.](?:19|20)\d{2}")


@dataclass(frozen=True)
class Ratio:
    """A ratio, base over agent, why it is no plain number, and whether that should be asked."""

    value: float
    why: str
    asked: bool = False


def read_ratio(cell: str, decimal_comma: bool = False) -> Ratio | None:
    """
    Read a writing of a ratio; None when *cell* is none (a plain number above 1 is none).

    Examples
    --------
    >>> read_ratio("10:1").value, read_ratio("1:10").value, read_ratio("0.41736").why
    (10.0, 10.0, 'a spreadsheet stored 10:1 as a part of a day')
    """
    fraction = _of_day_fraction(cell)
    if fraction is not None:
        return fraction
    clock = _CLOCK.fullmatch(cell)
    if clock is not None and clock["minutes"].startswith("0"):
        return _ratio(float(clock["hours"]), float(clock["minutes"]), "written as a clock time")
    share = _PERCENT.fullmatch(cell)
    if share is not None and 0 < (part := float(share[1].replace(",", "."))) < 100:
        why = f"{share[1]} % of agent, taken as agent over base"
        return Ratio(100 / part, f"{why}: {100 / part:.6g}", asked=True)
    dated = _of_date(cell)
    if dated is not None:
        return dated
    pair = _PAIR.fullmatch(cell)
    if pair is not None and _REST.fullmatch(pair["rest"]):
        first, second = (float(pair[part].replace(",", ".")) for part in ("first", "second"))
        return _ratio(first, second, "")
    text = cell.replace(",", ".") if decimal_comma else cell
    if re.fullmatch(r"0?\.\d+", text) and float(text) > 0:
        value = 1 / float(text)
        return Ratio(value, f"agent over base turned round: {value:.6g}")
    return None


def _of_date(cell: str) -> Ratio | None:
    """Return 10:1 for "10-Jan" or 2026-01-10, which a spreadsheet made of 10-1 or 10/1."""
    named = _DAY_AND_MONTH.fullmatch(cell)
    if named is not None:
        day, month = named["d1"] or named["d2"], named["n1"] or named["n2"]
        pair = (int(day), _MONTHS.index(month[:3].lower()) + 1)
    else:
        numbered = _ISO_DATE.fullmatch(cell) or _YEAR_LAST.fullmatch(cell)
        if numbered is None:
            return None
        pair = (int(numbered["a"]), int(numbered["b"]))
    if min(pair) != 1 or not 2 <= max(pair) <= 31:
        return None
    why = f"the ratio {max(pair)}:1 that a spreadsheet stored as a date"
    return Ratio(float(max(pair)), why, asked=True)


def _ratio(first: float, second: float, why: str) -> Ratio | None:
    if first <= 0 or second <= 0:
        return None
    shown = f"the ratio {first:.6g}:{second:.6g}" + (f" {why}" if why else "")
    if first < second:
        return Ratio(second / first, f"{shown}, turned round")
    return Ratio(first / second, shown)


def _of_day_fraction(cell: str) -> Ratio | None:
    """Return 10:1 for 0.41736, which is 10:01 as a part of a day: one part must be 1."""
    if not _DAY_FRACTION.fullmatch(cell):
        return None
    digits = cell.replace(",", ".")
    minutes = float(digits) * _MINUTES_A_DAY
    whole = round(minutes)
    tolerance = 0.5 * 10.0 ** -(len(digits) - 2) * _MINUTES_A_DAY + 1e-6
    first, second = divmod(whole, 60)
    if abs(minutes - whole) > tolerance or tolerance > 0.1 or 1 not in (first, second):
        return None
    if first == 0 or second == 0:
        return None
    why = f"a spreadsheet stored {first}:{second} as a part of a day"
    if first < second:
        return Ratio(second / first, f"{why}, turned round")
    return Ratio(first / second, why)
