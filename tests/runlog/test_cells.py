"""What one cell is taken to mean: numbers, units, ranges, ratios, clock times, words."""

from __future__ import annotations

import pytest

from weakstep.runlog.cells import Expected, read_number
from weakstep.runlog.ratios import read_ratio
from weakstep.runlog.tidy import plain_signs

SECONDS = Expected("s", "s")
KPA = Expected("kPa", "kPa")
CELSIUS = Expected("C", "C")
COUNT = Expected("", "")
HOURS = Expected("h", "h")
RATIO = Expected("", "", ratio=True)


@pytest.mark.parametrize(
    ("text", "expected", "value"),
    [
        ("30", SECONDS, 30.0),
        (" 30 s", SECONDS, 30.0),
        ("0.5 min", SECONDS, 30.0),
        ("1.5h", SECONDS, 5400.0),
        ("2 min 30 s", SECONDS, 150.0),
        ("2m 30s", SECONDS, 150.0),
        ("1 h 30 min", HOURS, 1.5),
        ("1:30", SECONDS, 90.0),
        ("1:30", HOURS, 1.5),
        ("0:02:30", SECONDS, 150.0),
        ("30-60", SECONDS, 45.0),
        ("30 – 60 s", SECONDS, 45.0),
        ("30 to 45", SECONDS, 37.5),
        ("1-2 min", SECONDS, 90.0),
        ("30 s - 1 min", SECONDS, 45.0),
        ("~30", SECONDS, 30.0),
        ("ca. 30 s", SECONDS, 30.0),
        ("about 2 min", SECONDS, 120.0),
        ("30 ± 5", SECONDS, 30.0),
        ("30?", SECONDS, 30.0),
        ("3,5", SECONDS, 3.5),
        ("\u22125", CELSIUS, -5.0),
        ("1e2", SECONDS, 100.0),
        ("3x", COUNT, 3.0),
        ("150 F", CELSIUS, 65.5555556),
        ("150 °F", CELSIUS, 65.5555556),
        ("338.15 K", CELSIUS, 65.0),
        ("65 °C", CELSIUS, 65.0),
        ("overnight", HOURS, 15.0),
        ("overnight", Expected("min", "min"), 900.0),
        ("20", Expected("C", "F"), -6.6666667),
    ],
)
def test_readings(text: str, expected: Expected, value: float) -> None:
    """A cell that shows a value in any of these ways is read in the column's unit."""
    assert read_number(text, expected).value == pytest.approx(value, rel=1e-7)


# Pressures to the digits of NIST SP 811 (2008), Appendix B.8: 1 Torr = 133.3224 Pa,
# 1 psi = 6.894757 kPa, 1 inHg = 3.386389 kPa, 1 atm = 101.325 kPa, 1 bar = 100 kPa (memory).
@pytest.mark.parametrize(
    ("text", "kpa"),
    [
        ("1000 Pa", 1.0),
        ("1 mbar", 0.1),
        ("1 hPa", 0.1),
        ("1 bar", 100.0),
        ("1 Torr", 0.1333224),
        ("1 mmHg", 0.1333224),
        ("1000 mTorr", 0.1333224),
        ("1 psi", 6.894757),
        ("1 inHg", 3.386389),
        ("1 atm", 101.325),
        ("0.1 MPa", 100.0),
    ],
)
def test_pressures_against_published_factors(text: str, kpa: float) -> None:
    """Conversion factors agree with the printed ones to their last digit."""
    assert read_number(text, KPA).value == pytest.approx(kpa, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("<1 min", "only_a_bound"),
        ("> 60", "only_a_bound"),
        ("less than 5 min", "only_a_bound"),
        ("1,000", "unclear_comma"),
        ("full power", "not_a_number"),
        ("30 g", "not_a_number"),
        ("30 furlongs", "not_a_number"),
        ("60-30", "not_a_number"),
        ("1e999", "not_a_number"),
        ("1e300 h", "not_a_number"),
        ("3 apples 4 pears", "not_a_number"),
        ("12.5.3", "not_a_number"),
        ("<", "not_a_number"),
        ("~", "not_a_number"),
    ],
)
def test_what_says_no_value_is_missing_with_a_reason(text: str, code: str) -> None:
    """'<1' is not 1: no value is made up, and the reason has a code."""
    reading = read_number(text, SECONDS)
    assert reading.value is None
    assert reading.code == code


def test_a_bound_is_told_in_the_columns_unit() -> None:
    """The reader sees what was understood."""
    assert read_number("<1 min", SECONDS).why == "only known to be below 60 s"
    assert read_number("> 2", SECONDS).why == "only known to be above 2 s"


@pytest.mark.parametrize("text", ["n/a", "?", "-", "NA", "–", "not measured", "unknown"])
def test_marks_for_missing(text: str) -> None:
    """They count as missing and are no problem, but are told as a reading."""
    reading = read_number(text, SECONDS)
    assert (reading.value, reading.code) == (None, "")
    assert reading.why == "stands for a missing value"


def test_an_empty_cell_says_nothing() -> None:
    """No reading to tell."""
    assert read_number("  ", SECONDS).why == ""


def test_every_reading_but_a_plain_number_has_a_reason() -> None:
    """Nothing is converted silently."""
    assert read_number("30", SECONDS).why == ""
    assert read_number("0.5 min", SECONDS).why == "0.5 min is 30 s"
    assert read_number("3,5", SECONDS).why == "decimal comma"
    assert read_number("~3,5", SECONDS).why == "an approximate value; decimal comma"


def test_point_and_comma_in_a_file_of_decimal_commas() -> None:
    """1.000 could be one or a thousand there; 21.7 can only be one thing."""
    comma = Expected("s", "s", decimal_comma=True)
    assert read_number("1.000", comma).code == "unclear_comma"
    assert read_number("21.7", comma).value == 21.7
    assert read_number("0,58 min", comma).value == pytest.approx(34.8)
    assert read_number("1,5-2,5", comma).value == 2.0


@pytest.mark.parametrize(
    ("text", "ratio"),
    [
        ("10:1", 10.0),
        ("1:10", 10.0),
        ("10-1", 10.0),
        ("10/1", 10.0),
        ("1/10", 10.0),
        ("10 to 1", 10.0),
        ("10 : 1", 10.0),
        ("10:1:", 10.0),
        ("10:1 (w/w)", 10.0),
        ("10:1 by weight", 10.0),
        ("10,5:1", 10.5),
        ("21:2", 10.5),
        ("10:01", 10.0),
        ("10:01:00", 10.0),
        ("01:10", 10.0),
        ("0.41736", 10.0),
        ("0.417361111111111", 10.0),
        ("0.048611111", 10.0),
        ("0.1", 10.0),
        ("10", 10.0),
        ("9.8", 9.8),
    ],
)
def test_writings_of_a_ratio(text: str, ratio: float) -> None:
    """Every way of writing ten to one gives 10, also after a spreadsheet took it for a time."""
    assert read_number(text, RATIO).value == pytest.approx(ratio, rel=1e-9)


def test_a_day_fraction_is_only_a_ratio_when_it_is_one() -> None:
    """10:01 is 601 of 1440 minutes; a fraction between two whole ratios is turned round instead."""
    assert pytest.approx(0.41736, abs=5e-6) == 601 / 1440
    reading = read_ratio("0.41736")
    assert reading is not None
    assert reading.why == "a spreadsheet stored 10:1 as a part of a day"
    other = read_ratio("0.0954")
    assert other is not None
    assert other.why.startswith("agent over base turned round")
    assert read_ratio("0:10") is None


@pytest.mark.parametrize("cell", ["9" * 5000 + "½", "9" * 5000 + " 1/2 min", "9" * 16 + "½"])
def test_fractions_beside_endless_numbers_are_left_as_written(cell: str) -> None:
    """More digits than a computer holds make no number, and no traceback."""
    assert plain_signs(cell).startswith("9" * 16)
