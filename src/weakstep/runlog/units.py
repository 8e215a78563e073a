"""
Units a bench writes, and their conversion to the unit a description asks for.

The table is our own although pint knows every unit in it: a general parser takes "a" for a year,
"h" for Planck's constant when it is asked so, "C" for a coulomb and "%RH" for nothing, knows no
Std., segundos or mn, and needs half a second to import where a whole check of a term's log takes
less. Only some fifty units are ever written in such a log. The tests compare each with pint.
"""

from __future__ import annotations

import re
from dataclasses import dataclass


@dataclass(frozen=True)
class Unit:
    """
    A unit: `base value = (value + offset) * factor`.

    Attributes
    ----------
    kind : str
        What it measures; only units of one kind convert into each other.
    factor, offset : float
        To the kind's base unit (s, Pa, K, g, m, m2, m3, W, J).
    """

    kind: str
    factor: float
    offset: float = 0.0


# Conversion factors: exact by definition in SI Brochure (9th ed.) and NIST SP 811, Appendix B;
# Torr = 101325/760 Pa, psi = 6894.757 Pa, inHg = 3386.389 Pa (32 F) as printed there.
_UNITS: dict[str, tuple[Unit, str]] = {
    "ms": (Unit("time", 1e-3), "ms msec millisecond milliseconds millisekunden"),
    "s": (
        Unit("time", 1.0),
        "s sec secs second seconds sek sekunde sekunden seg segs segundo segundos seconde secondes",
    ),
    "min": (
        Unit("time", 60.0),
        "min mins minute minutes minuten minuto minutos mn mns minuts",
    ),
    "h": (Unit("time", 3600.0), "h hr hrs hour hours std stunde stunden heure heures hora horas"),
    "d": (
        Unit("time", 86400.0),
        "d day days tag tage jour jours día días dia dias",
    ),
    "wk": (Unit("time", 604800.0), "wk week weeks woche wochen semaine semaines semana semanas"),
    "Pa": (Unit("pressure", 1.0), "pa pascal"),
    "hPa": (Unit("pressure", 100.0), "hpa hektopascal"),
    "kPa": (Unit("pressure", 1e3), "kpa"),
    "MPa": (Unit("pressure", 1e6), ""),
    "ubar": (Unit("pressure", 0.1), "ubar μbar µbar microbar"),
    "mbar": (Unit("pressure", 100.0), "mbar millibar mbars"),
    "bar": (Unit("pressure", 1e5), "bar bars"),
    "Torr": (Unit("pressure", 101325 / 760), "torr tor mmhg"),
    "mTorr": (Unit("pressure", 101.325 / 760), "mtorr millitorr"),
    "psi": (Unit("pressure", 6894.757), "psi psia"),
    "inHg": (Unit("pressure", 3386.389), "inhg"),
    "atm": (Unit("pressure", 101325.0), "atm"),
    "at": (Unit("pressure", 98066.5), "kgf/cm2 kgf/cm² kg/cm2 kg/cm²"),
    "C": (Unit("temperature", 1.0, 273.15), "c °c ℃ ºc degc deg-c celsius °celsius gradc grad-c"),
    "F": (Unit("temperature", 5 / 9, 459.67), "f °f ℉ ºf degf deg-f fahrenheit"),
    "K": (Unit("temperature", 1.0), "k kelvin"),
    "g": (Unit("mass", 1.0), "g gr gram grams gramm grammes"),
    "mg": (Unit("mass", 1e-3), "mg"),
    "kg": (Unit("mass", 1e3), "kg"),
    "oz": (Unit("mass", 28.349523125), "oz ounce ounces"),
    "lb": (Unit("mass", 453.59237), "lb lbs pound pounds"),
    "nm": (Unit("length", 1e-9), "nm"),
    "um": (Unit("length", 1e-6), "um µm μm micron microns"),
    "mm": (Unit("length", 1e-3), "mm"),
    "cm": (Unit("length", 1e-2), "cm"),
    "m": (Unit("length", 1.0), "m meter metre"),
    "in": (Unit("length", 0.0254), "in inch inches zoll"),
    "mil": (Unit("length", 2.54e-5), "mil mils thou"),
    "mm2": (Unit("area", 1e-6), "mm2 mm²"),
    "cm2": (Unit("area", 1e-4), "cm2 cm²"),
    "cm3": (Unit("volume", 1e-6), "cm3 cm³ ml cc"),
    "l": (Unit("volume", 1e-3), "l litre liter"),
    "mW": (Unit("power", 1e-3), ""),
    "W": (Unit("power", 1.0), "w watt watts"),
    "kW": (Unit("power", 1e3), "kw"),
    "J": (Unit("energy", 1.0), "j joule joules"),
    "kJ": (Unit("energy", 1e3), "kj"),
    "Wh": (Unit("energy", 3600.0), "wh"),
    "%": (Unit("share", 1.0), "% pct percent prozent %rh rh% %r.h. %rf"),
}
ALL_UNITS = tuple(_UNITS)
_WORDS = {word: name for name, (_, words) in _UNITS.items() for word in words.split()}
_SPACES = re.compile(r"[\s.]+")
_ABSOLUTE = re.compile(r"[\s(,]*\babs(?:olute?|olut)?\b\.?\)?$|\s?\(a\)?$", re.IGNORECASE)
_GAUGE = re.compile(
    r"(?P<unit>.*?\w)\s*[(,]?\s*(?:g|gauge|gage|rel\.?|relativ|ü)\)?", re.IGNORECASE
)


def unit_named(text: str) -> str | None:
    """
    Return the name of the unit that *text* writes, None when it is none.

    Examples
    --------
    >>> unit_named("Min."), unit_named("deg C"), unit_named("MPa"), unit_named("furlong")
    ('min', 'C', 'MPa', None)
    """
    word = _ABSOLUTE.sub("", text.strip().strip("[]()").strip())
    if word in _UNITS:
        return word
    lowered = _SPACES.sub(" ", word.casefold()).strip()
    return (
        _WORDS.get(lowered)
        or _WORDS.get(lowered.replace(" ", "-"))
        or _WORDS.get(lowered.replace(" ", ""))
    )


def gauge_unit(text: str) -> str | None:
    """
    Return the unit of a pressure over that of the air; None when *text* is none.

    Examples
    --------
    >>> gauge_unit("bar g"), gauge_unit("psig"), gauge_unit("kPa(g)"), gauge_unit("bar")
    ('bar', 'psi', 'kPa', None)
    """
    found = _GAUGE.fullmatch(text.strip().strip("[]").strip())
    unit = None if found is None else unit_named(found["unit"])
    return unit if unit is not None and same_kind(unit, "Pa") else None


def same_kind(unit: str, other: str) -> bool:
    """Whether two units measure the same; units unknown here only match themselves."""
    if unit == other:
        return True
    return unit in _UNITS and other in _UNITS and _kind(unit) == _kind(other)


def units_like(unit: str) -> list[str]:
    """
    Return the other units that measure the same.

    Examples
    --------
    >>> units_like("C"), units_like("holes")
    (['F', 'K'], [])
    """
    if unit not in _UNITS:
        return []
    return [other for other in _UNITS if other != unit and _kind(other) == _kind(unit)]


def convert(value: float, unit: str, into: str) -> float:
    """
    Convert *value* from *unit* into the unit *into*; both of the same kind.

    Raises
    ------
    KeyError
        A unit that is not known here.

    Examples
    --------
    >>> round(convert(0.5, "min", "s"), 6), round(convert(150.0, "F", "C"), 2)
    (30.0, 65.56)
    """
    if unit == into:
        return value
    source, target = _UNITS[unit][0], _UNITS[into][0]
    return (value + source.offset) * source.factor / target.factor - target.offset


def _kind(unit: str) -> str:
    return _UNITS[unit][0].kind
