"""One cell's text -> the number it means, with the reason wherever it is not plain."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from weakstep.runlog.clocks import Duration, read_clock, read_span
from weakstep.runlog.marks import COUNT_WORDS, MISSING_WORDS, OVERNIGHT_WORDS
from weakstep.runlog.ratios import read_ratio
from weakstep.runlog.tidy import (
    plain_signs,
    primes_as_units,
    without_commas,
    without_remark,
    without_thousands,
)
from weakstep.runlog.units import convert, gauge_unit, same_kind, unit_named

Side = Literal["below", "above"]

_AIR_KPA = 101.325  # standard atmosphere, ISO 2533:1975; the air of a place high up is thinner
LARGEST = 1e15  # beyond it no cell of a bench log is a measurement
_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?"
_WITH_UNIT = re.compile(rf"(?P<number>{_NUMBER})\s*(?P<unit>\S.*)?")
_RANGE = re.compile(
    rf"(?P<low>{_NUMBER})\s*(?P<unit1>[^\d\s~-][^\d~-]*?)?\s*(?:-|–|—|to|bis|à|\ba\b|hasta|\.\.+)\s*"
    rf"(?P<high>\d[\d.]*)\s*(?P<unit>\S.*)?",
    re.IGNORECASE,
)
_PLUS_MINUS = re.compile(rf"(?P<number>{_NUMBER})\s*(?:±|\+/-|\+-)\s*[\d.]+\s*(?P<unit>\S.*)?")
_ABOUT = re.compile(
    r"^(?:~|≈|∼|ca\.?|circa|about|approx\.?|approximately|around|etwa|environ\b|env\b\.?|aprox\.?|unos)\s*",
    re.IGNORECASE,
)
_BOUND = re.compile(
    r"^(?P<sign><=?|>=?|≤|≥|(?:under|less than|more than|over|at least|at most|unter|über|"
    r"mindestens|höchstens|mehr als|moins de|plus de|au moins|menos de|más de|min\.?|max\.?)"
    r"(?![^\W\d_]))\s*",
    re.IGNORECASE,
)
_AND_MORE = re.compile(rf"(?P<number>{_NUMBER})\s*\+\s*(?P<unit>[^\W\d]+\.?)?")
_PARTS = re.compile(r"(\d+(?:\.\d+)?)\s*([^\d\s.]+)\.?\s*")
_SMALLER = {"d": "h", "h": "min", "min": "s"}


@dataclass(frozen=True)
class Reading:
    """
    What a cell was taken to mean.

    Attributes
    ----------
    value : float or None
        In the parameter's unit; None when the cell counts as missing.
    why : str
        Why it is not the plain number it shows; empty for a plain number or an empty cell.
    code : str
        Code of the problem to report; empty when there is none.
    bound : (side, float) or None
        For a cell that says only on which side of a number the value lies: "below" or "above",
        and the number in the parameter's unit.
    """

    value: float | None
    why: str = ""
    code: str = ""
    bound: tuple[Side, float] | None = None


@dataclass(frozen=True)
class Expected:
    """What the cells of a column should hold: unit, comma convention, ratio, absolute pressure."""

    unit: str
    written_in: str
    decimal_comma: bool = False
    ratio: bool = False
    absolute: bool = False


EMPTY = Reading(None)


def read_number(text: str, expected: Expected) -> Reading:
    """
    Read one cell that should hold a number.

    Examples
    --------
    >>> reading = read_number("0.5 min", Expected("s", "s"))
    >>> reading.value, reading.why
    (30.0, '0.5 min is 30 s')
    >>> read_number("<1 min", Expected("s", "s")).bound
    ('below', 60.0)
    """
    return _from_gauge(_read(plain_signs(text), expected), expected)


def _from_gauge(reading: Reading, expected: Expected) -> Reading:
    """Take a negative reading of an absolute pressure for one below the pressure of the air."""
    if not expected.absolute or reading.value is None or reading.value >= 0:
        return reading
    value = reading.value + convert(_AIR_KPA, "kPa", expected.unit)
    why = f"a gauge reading below an air pressure of {_AIR_KPA} kPa: {_shown(value, expected)}"
    return Reading(value, _joined(reading.why, why), "vague_value")


def _read(cell: str, expected: Expected) -> Reading:
    lowered = cell.casefold()
    if lowered in MISSING_WORDS:
        return EMPTY if cell == "" else Reading(None, "stands for a missing value")
    if expected.ratio:
        ratio = read_ratio(cell, expected.decimal_comma)
        if ratio is not None:
            return Reading(ratio.value, ratio.why, "vague_value" if ratio.asked else "")
    if lowered in OVERNIGHT_WORDS:
        return _overnight(expected)
    if same_kind(expected.unit, "s"):
        span = read_span(cell, expected.unit)
        if span is not None:
            return _of_duration(span, expected)
        cell = primes_as_units(cell)
    bare = without_remark(cell)
    grouped = without_thousands(bare.text)
    if grouped.why:  # what is left of marks is a decimal point
        pointed = re.sub(r"(?<=\d),(?=\d)", ".", grouped.text)
        return _read_clean(pointed, _joined(bare.why, grouped.why), expected)
    number = without_commas(bare.text, expected.decimal_comma)
    if number is None:
        return Reading(None, code="unclear_comma")
    return _read_clean(number.text, _joined(bare.why, number.why), expected)


def _read_clean(cell: str, why: str, expected: Expected) -> Reading:
    """Read a text whose commas are settled; *why* already stands for it."""
    bound = _BOUND.match(cell)
    if bound is not None:
        return _bound(cell[bound.end() :], bound["sign"].lower() in _BELOW, expected)
    plus = _AND_MORE.fullmatch(cell)
    if plus is not None:
        return _bound(f"{plus['number']} {plus['unit'] or ''}".strip(), False, expected)
    if cell.endswith("?") and (doubted := _measured(cell.rstrip(" ?"), expected)) is not None:
        return Reading(doubted.value, _joined("written with a doubt", why), "vague_value")
    about = _ABOUT.match(cell)
    if about is not None:
        inner = _measured(cell[about.end() :], expected)
        if inner is not None and inner.value is not None:
            return Reading(inner.value, _joined("an approximate value", why, inner.why))
        return Reading(None, code="not_a_number")
    measured = _measured(cell, expected)
    if measured is None:
        return Reading(None, code="not_a_number")
    return Reading(measured.value, _joined(why, measured.why), measured.code)


def _bound(cell: str, below: bool, expected: Expected) -> Reading:
    """Read what stands behind "<" or ">": the value is censored there, not that number."""
    inner = _measured(cell, expected)
    if inner is None or inner.value is None:
        return Reading(None, code="not_a_number")
    side: Side = "below" if below else "above"
    why = f"only known to be {side} {_shown(inner.value, expected)}"
    return Reading(None, why, "only_a_bound", (side, inner.value))


_BELOW = frozenset(
    [
        "<",
        "<=",
        "≤",
        "under",
        "less than",
        "at most",
        "unter",
        "höchstens",
        "moins de",
        "menos de",
        "max",
        "max.",
    ]
)


def _measured(cell: str, expected: Expected) -> Reading | None:
    """Read a number, a range, a value with error, several units, or a clock time."""
    is_time = same_kind(expected.unit, "s")
    clock = read_clock(cell, expected.unit) if is_time else None
    if clock is not None:
        return _of_duration(clock, expected)
    for pattern, read in ((_WITH_UNIT, _single), (_RANGE, _range), (_PLUS_MINUS, _plus_minus)):
        found = pattern.fullmatch(cell)
        if found is not None:
            reading = read(found, expected)
            if reading is not None:
                return reading
    return _several_units(cell, expected)


def _single(found: re.Match[str], expected: Expected) -> Reading | None:
    number, unit = float(found["number"]), found["unit"]
    value = _in_unit(number, unit, expected)
    if value is None:
        return None
    if unit is None or unit_named(unit) == expected.written_in:
        return Reading(value)
    return Reading(value, f"{found[0]} is {_shown(value, expected)}")


def _range(found: re.Match[str], expected: Expected) -> Reading | None:
    low, high = float(found["low"]), _float(found["high"])
    if high is None:
        return None
    unit = found["unit"] or found["unit1"]
    ends = [
        _in_unit(low, found["unit1"] or unit, expected),
        _in_unit(high, unit, expected),
    ]
    if ends[0] is None or ends[1] is None or ends[0] > ends[1]:
        return None
    shown = f"{ends[0]:.6g} to {ends[1]:.6g}"
    return Reading((ends[0] + ends[1]) / 2, f"middle of the range {shown}")


def _plus_minus(found: re.Match[str], expected: Expected) -> Reading | None:
    value = _in_unit(float(found["number"]), found["unit"], expected)
    return None if value is None else Reading(value, "the value without its error")


def _several_units(cell: str, expected: Expected) -> Reading | None:
    """Read "2 min 30 s", "1 h 30": times only, from the larger unit to the smaller."""
    if not same_kind(expected.unit, "s"):
        return None
    parts = _PARTS.findall(cell)
    rest = _PARTS.sub("", cell).strip()
    units = [unit_named("min" if unit == "m" else unit) for _, unit in parts]
    if any(unit is None or not same_kind(unit, "s") for unit in units):
        return None
    named = [(float(number), unit) for (number, _), unit in zip(parts, units, strict=True) if unit]
    if rest.isdecimal() and len(rest) <= 2 and named and named[-1][1] in _SMALLER:
        named.append((float(rest), _SMALLER[named[-1][1]]))
    elif rest or (len(named) < 2 and "m" not in [unit for _, unit in parts]):
        return None
    value = sum(convert(number, unit, expected.unit) for number, unit in named)
    # A lone m is a minute only because nothing else of the kind begins with it.
    code = "vague_value" if len(named) == 1 else ""
    return Reading(value, f"{cell} is {_shown(value, expected)}", code)


def _of_duration(duration: Duration, expected: Expected) -> Reading:
    code = "vague_value" if duration.asked else ""
    return Reading(duration.value, f"{duration.how}: {_shown(duration.value, expected)}", code)


def _overnight(expected: Expected) -> Reading:
    """Read "overnight" as the middle of 12 to 18 h (common practice, no source)."""
    if not same_kind(expected.unit, "h"):
        return Reading(None, code="not_a_number")
    value = convert(15.0, "h", expected.unit)
    why = f"overnight taken as 12 to 18 h: {_shown(value, expected)}"
    return Reading(value, why, "vague_value")


def _in_unit(number: float, unit: str | None, expected: Expected) -> float | None:
    """Convert a number with the unit written beside it, or the column's own when there is none."""
    if unit is not None and not expected.unit and unit.casefold() in COUNT_WORDS:
        return number if abs(number) <= LARGEST else None
    named = expected.written_in if unit is None else unit_named(unit)
    if unit == "°" and same_kind(expected.unit, "C"):
        named = expected.written_in
    if unit is not None and (gauge := gauge_unit(unit)) is not None:
        named = None if expected.absolute else gauge
    if named is None or not same_kind(named, expected.unit):
        return None
    value = convert(number, named, expected.unit)
    return value if max(abs(number), abs(value)) <= LARGEST else None


def _float(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


def _shown(value: float | None, expected: Expected) -> str:
    return "missing" if value is None else f"{value:.6g} {expected.unit}".strip()


def _joined(*reasons: str) -> str:
    return "; ".join(reason for reason in reasons if reason)
