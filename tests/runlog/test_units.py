"""Units and their conversion."""

from __future__ import annotations

import pint
import pytest

from weakstep.runlog.units import ALL_UNITS, convert, gauge_unit, same_kind, unit_named, units_like


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
        ("psia", "psi"),
        ("bar(a)", "bar"),
        ("seg", "s"),
        ("µbar", "ubar"),
        ("psig", None),
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


@pytest.mark.parametrize(
    ("text", "unit"),
    [("psig", "psi"), ("barg", "bar"), ("bar (g)", "bar"), ("mbar rel.", "mbar"), ("kg", None)],
)
def test_gauge_units(text: str, unit: str | None) -> None:
    """A g behind the unit of a pressure says that it is over the air's; a kilogram does not."""
    assert gauge_unit(text) == unit


# What pint calls the units that it writes otherwise.
IN_PINT = {
    **{"C": "degC", "F": "degF", "K": "kelvin", "wk": "week", "d": "day", "in": "inch"},
    **{"inHg": "inch_Hg", "at": "kgf/cm**2", "%": "percent", "Torr": "torr", "mTorr": "millitorr"},
    **{"cm3": "cm**3", "cm2": "cm**2", "mm2": "mm**2", "l": "liter", "mil": "thou"},
}


def test_every_unit_against_pint() -> None:
    """Each unit of the table into the others of its kind, as the general library has it."""
    registry = pint.UnitRegistry()
    compared = 0
    for unit in ALL_UNITS:
        for into in units_like(unit):
            source = registry.Quantity(12.5, IN_PINT.get(unit, unit))
            expected = source.to(IN_PINT.get(into, into)).magnitude
            # psi and inHg are printed to seven digits in NIST SP 811.
            assert convert(12.5, unit, into) == pytest.approx(expected, rel=2e-7), (unit, into)
            compared += 1
    assert compared > 200
