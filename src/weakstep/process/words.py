"""How words of headers, outcomes and names are compared, and how units are printed."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

# Units that a description writes in plain letters, as they are printed.
PRINTED_UNITS = {
    **{"C": "°C", "F": "°F", "pct": "%", "um": "µm"},
    **{"mm2": "mm²", "cm2": "cm²", "cm3": "cm³", "g/m3": "g/m³"},
}
_JOINTS = re.compile(r"[\s_\-./:,;'\"()\[\]]+")


@lru_cache(maxsize=1 << 14)
def plain(word: str) -> str:
    """
    Return *word* in the form in which words are compared.

    Capitals, and spaces, dashes, dots, brackets and quotes between words do not count;
    a word made of nothing else keeps them.

    Examples
    --------
    >>> plain("  Cure-Temp. ")
    'cure temp'
    >>> plain("-")
    '-'
    """
    folded = unicodedata.normalize("NFKC", word).casefold().strip()
    return _JOINTS.sub(" ", folded).strip() or folded


def printed_unit(unit: str) -> str:
    """
    Return a unit as people read it.

    Examples
    --------
    >>> printed_unit("C"), printed_unit("g/m3"), printed_unit("s")
    ('°C', 'g/m³', 's')
    """
    return PRINTED_UNITS.get(unit, unit)


def range_words(lower: float | None, upper: float | None, unit: str) -> str:
    """
    Return a range as people write it; the empty text when it is open on both sides.

    Examples
    --------
    >>> range_words(15.0, 200.0, "C"), range_words(None, 30.0, "s"), range_words(1.0, None, "")
    ('15 to 200 °C', 'up to 30 s', 'from 1')
    """
    behind = f" {printed_unit(unit)}" if unit else ""
    if lower is not None and upper is not None:
        return f"{lower:g} to {upper:g}{behind}"
    if lower is not None:
        return f"from {lower:g}{behind}"
    return "" if upper is None else f"up to {upper:g}{behind}"
