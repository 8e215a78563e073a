"""Clock times in cells of durations: 1:30, and 23:50 to 00:20."""

from __future__ import annotations

import re
from dataclasses import dataclass

from weakstep.runlog.units import convert

_CLOCK = re.compile(r"(?P<first>\d{1,3}):(?P<second>[0-5]\d)(?::(?P<third>[0-5]\d))?")
_TIME = (
    r"(?P<h{0}>[01]?\d|2[0-4])(?:[:.h](?P<m{0}>[0-5]\d)(?::(?P<s{0}>[0-5]\d))?)?"
    r"\s*(?P<half{0}>[ap]\.?m\.?)?"
)
_SPAN = re.compile(
    _TIME.format(1)
    + r"(?:\s*uhr)?\s*(?:-|–|—|→|->|to|bis|à|a|until)\s*"
    + _TIME.format(2)
    + r"(?:\s*uhr)?(?:\s*\(?(?:next (?:day|morning)|\+1|am nächsten tag|le lendemain)\)?)?",
    re.IGNORECASE,
)
_DAY = 86400


@dataclass(frozen=True)
class Duration:
    """A time in the unit asked for, and how it was come by; *asked* when it could mean another."""

    value: float
    how: str
    asked: bool


def read_clock(cell: str, unit: str) -> Duration | None:
    """
    Read 1:30 in a time column: hours and minutes for h and d, else minutes and seconds.

    Examples
    --------
    >>> read_clock("1:30", "s").value, read_clock("1:30", "h").value
    (90.0, 1.5)
    """
    found = _CLOCK.fullmatch(cell)
    if found is None:
        return None
    first, second, third = int(found["first"]), int(found["second"]), found["third"]
    if third is not None:
        seconds, words = first * 3600 + second * 60 + int(third), "hours, minutes and seconds"
    elif unit in ("h", "d"):
        seconds, words = first * 3600 + second * 60, "hours and minutes"
    else:
        seconds, words = first * 60 + second, "minutes and seconds"
    return Duration(convert(float(seconds), "s", unit), f"read as {words}", True)


def read_span(cell: str, unit: str) -> Duration | None:
    """
    Read "23:50 - 00:20" as the time between; an end before the start is past midnight.

    Examples
    --------
    >>> read_span("23:50 - 00:20", "min").value, read_span("10 pm to 6 am", "h").value
    (30.0, 8.0)
    """
    found = _SPAN.fullmatch(cell)
    if found is None:
        return None
    start, end = _second_of_day(found, 1), _second_of_day(found, 2)
    if start is None or end is None:
        return None
    past = ", past midnight" if end < start else ""
    value = convert(float((end - start) % _DAY), "s", unit)
    return Duration(value, f"from one clock time to the other{past}", False)


def _second_of_day(found: re.Match[str], side: int) -> int | None:
    """Return the second of the day of one end; None for a bare number, which is no clock time."""
    hour, minute, half = (found[f"{part}{side}"] for part in ("h", "m", "half"))
    if minute is None and half is None:
        return None
    hours = int(hour)
    if half is not None:
        if not 1 <= hours <= 12:
            return None
        hours = hours % 12 + (12 if half[0] in "pP" else 0)
    return hours * 3600 + int(minute or 0) * 60 + int(found[f"s{side}"] or 0)
