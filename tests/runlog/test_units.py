"""Units and their conversion."""

from __future__ import annotations

import pytest

from weakstep.runlog.units import convert, same_kind, unit_named


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("sec", "s"),
        ("Sec.", "s"),
        ("hrs", "h"),
        ("Std", "h"),
        ("°F", "F"),
        ("deg C", "C"),
        ("mTorr", "mTorr"),
        ("MTORR", "mTorr"),
        ("kPa abs", "kPa"),
        ("mbar (abs)", "mbar"),
        ("MPa", "MPa"),
        ("mL", "cm3"),
        ("µm", "um"),
        ("%RH", "%"),
        ("kPa gauge", None),
        ("furlong", None),
        ("", None),
    ],
)
def test_unit_words(text: str, unit: str | None) -> None:
    """Units are known under their usual words; a gauge pressure is not an absolute one."""
    assert unit_named(text) == unit


@pytest.mark.parametrize(
    ("value", "unit", "into", "expected"),
    [
        # Fixed points of the scales: 0 C = 273.15 K = 32 F, 100 C = 212 F (SI Brochure).
        (0.0, "C", "K", 273.15),
        (32.0, "F", "C", 0.0),
        (212.0, "F", "C", 100.0),
        (1.0, "d", "h", 24.0),
        (1.0, "in", "mm", 25.4),
        (1.0, "kg", "g", 1000.0),
        (760.0, "Torr", "atm", 1.0),
    ],
)
def test_exact_conversions(value: float, unit: str, into: str, expected: float) -> None:
    """Definitions hold to machine precision, both ways."""
    assert convert(value, unit, into) == pytest.approx(expected, rel=1e-12, abs=1e-10)
    assert convert(expected, into, unit) == pytest.approx(value, rel=1e-12, abs=1e-10)


def test_only_units_of_one_kind_convert() -> None:
    """Seconds are no grams; an own unit of a lab matches itself only."""
    assert same_kind("s", "h")
    assert not same_kind("s", "g")
    assert same_kind("turns", "turns")
    assert not same_kind("turns", "s")
