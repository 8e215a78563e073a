"""The many writings of a mixing ratio."""

from __future__ import annotations

import re
from dataclasses import dataclass

_NUMBER = r"\d+(?:[.,]\d+)?"
_PAIR = re.compile(
    rf"(?P<first>{_NUMBER})\s*(?P<sign>:|/|-|–|to|zu|à)\s*(?P<second>{_NUMBER})(?P<rest>.*)",
    re.IGNORECASE,
)
_CLOCK = re.compile(r"(?P<hours>\d{1,2}):(?P<minutes>\d{2})(?::00)?")
_REST = re.compile(r"\s*:?\s*(?:\(?\s*(?:w/w|wt/wt|by (?:weight|mass)|m/m|wt)\s*\)?)?\s*", re.I)
_DAY_FRACTION = re.compile(r"0[.,]\d{4,}")
_MINUTES_A_DAY = 1440


@dataclass(frozen=True)
class Ratio:
    """A ratio, base over agent, and why it is not the plain number it shows."""

    value: float
    why: str


def read_ratio(cell: str, decimal_comma: bool = False) -> Ratio | None:
    """
    Read a writing of a ratio; None when *cell* is none (a plain number above 1 is none).

    Examples
    --------
    >>> read_ratio("10:1"), read_ratio("1:10").value, read_ratio("0.41736").why
    (Ratio(value=10.0, why='the ratio 10:1'), 10.0, 'a spreadsheet stored 10:1 as a part of a day')
    """
    fraction = _of_day_fraction(cell)
    if fraction is not None:
        return fraction
    clock = _CLOCK.fullmatch(cell)
    if clock is not None and clock["minutes"].startswith("0"):
        return _ratio(float(clock["hours"]), float(clock["minutes"]), "written as a clock time")
    pair = _PAIR.fullmatch(cell)
    if pair is not None and _REST.fullmatch(pair["rest"]):
        first, second = (float(pair[part].replace(",", ".")) for part in ("first", "second"))
        return _ratio(first, second, "")
    text = cell.replace(",", ".") if decimal_comma else cell
    if re.fullmatch(r"0?\.\d+", text) and float(text) > 0:
        value = 1 / float(text)
        return Ratio(value, f"agent over base turned round: {value:.6g}")
    return None


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
