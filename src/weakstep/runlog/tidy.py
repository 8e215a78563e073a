"""A cell as a hand wrote it -> the same cell in plain signs: fractions, thousands, remarks."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

_DASHES = str.maketrans(
    {"\u2212": "-", "\u2010": "-", "\u2011": "-", "\u2012": "-", "\ufe63": "-", "\u2236": ":"}
)
# Beside a fraction: numbers of 15 digits at most, as many as a computer holds exactly.
_VULGAR = re.compile(r"(?<!\d)(\d{0,15})\s*([\u00bc-\u00be\u2150-\u215e])")
_FRACTION = re.compile(r"(?:(?<!\d)(\d{1,15})\s+)?(\d)/([2-58])\s*(?=[^\W\d])")
_GROUPS = re.compile(r"(?<![\d.,])\d{1,3}(?:[ '’]\d{3})+(?!\d)(?:[.,]\d+)?")
_POINTS_THEN_COMMA = re.compile(r"(?<![\d.,])\d{1,3}(?:\.\d{3})+,\d+(?![\d.,])")
_COMMAS_THEN_POINT = re.compile(r"(?<![\d.,])\d{1,3}(?:,\d{3})+\.\d+(?![\d.,])")
_SEVERAL_GROUPS = re.compile(r"(?<![\d.,])\d{1,3}(?:\.\d{3}){2,}(?![\d.,])|"
                             r"(?<![\d.,])\d{1,3}(?:,\d{3}){2,}(?![\d.,])")  # fmt: skip
_PRIMES = re.compile(r"(?:(?P<min>\d+)\s*[′'’])?\s*(?:(?P<s>\d+)\s*(?:\"|″|′′|''|”)?)?")
_REMARK = re.compile(r"(?P<cell>.*\d.*?)\s*\((?P<remark>[^()\d]*)\)")
_APPROXIMATE = re.compile(r"(?:approx|about|ca|circa|roughly|etwa|environ|aprox)\.?", re.IGNORECASE)


@dataclass(frozen=True)
class Tidied:
    """
    A cell in plain signs.

    Attributes
    ----------
    text : str
    why : str
        What was changed that a reader should know of; empty when nothing was.
    """

    text: str
    why: str = ""


def plain_signs(text: str) -> str:
    """
    Return the cell with one kind of dash, digit and space, and fractions as decimals.

    Examples
    --------
    >>> plain_signs("１½ h"), plain_signs("\u221230"), plain_signs("3/4 h"), plain_signs("'70")
    ('1.5 h', '-30', '0.75 h', '70')
    """
    if text.isascii() and "/" not in text and "'" not in text:
        return " ".join(text.split())
    cell = _VULGAR.sub(_decimal, text)
    cell = " ".join(unicodedata.normalize("NFKC", cell.translate(_DASHES)).split())
    cell = _FRACTION.sub(_quotient, cell)
    return cell[1:] if cell[:1] in "'’" and cell[1:2].isdigit() else cell


def _decimal(found: re.Match[str]) -> str:
    return f"{int(found[1] or 0) + unicodedata.numeric(found[2]):.12g}"


def _quotient(found: re.Match[str]) -> str:
    return f"{int(found[1] or 0) + int(found[2]) / int(found[3]):.12g} "


def without_thousands(cell: str) -> Tidied:
    """
    Drop the marks between thousands where nothing else can be meant.

    That is: spaces or apostrophes before three digits, marks of one kind repeated, or marks of
    one kind before a decimal mark of the other.

    Examples
    --------
    >>> without_thousands("1.234,5").text, without_thousands("1'200 s").text
    ('1234.5', '1200 s')
    >>> without_thousands("1.200").text
    '1.200'
    """
    plain = _POINTS_THEN_COMMA.sub(lambda m: m[0].replace(".", "").replace(",", "."), cell)
    plain = _COMMAS_THEN_POINT.sub(lambda m: m[0].replace(",", ""), plain)
    plain = _SEVERAL_GROUPS.sub(lambda m: m[0].replace(",", "").replace(".", ""), plain)
    plain = _GROUPS.sub(lambda m: re.sub(r"[ '’]", "", m[0]), plain)
    return Tidied(plain, "" if plain == cell else "without the marks between thousands")


def without_remark(cell: str) -> Tidied:
    """
    Drop words in brackets behind a number; "(approx.)" becomes a sign in front.

    Examples
    --------
    >>> without_remark("30 s (clock slow)").text, without_remark("30 (approx.)").text
    ('30 s', '~30')
    >>> without_remark("30 (45)").text
    '30 (45)'
    """
    found = _REMARK.fullmatch(cell)
    if found is None:
        return Tidied(cell)
    if _APPROXIMATE.fullmatch(found["remark"].strip()):
        return Tidied("~" + found["cell"])
    return Tidied(found["cell"], "without the words in brackets")


def primes_as_units(cell: str) -> str:
    """
    Write minutes and seconds of a time out: 2'30'' is 2 min 30 s.

    Examples
    --------
    >>> primes_as_units("2'30''"), primes_as_units("90'"), primes_as_units("30")
    ('2 min 30 s', '90 min', '30')
    """
    found = _PRIMES.fullmatch(cell)
    if found is None or cell.isdigit() or not (found["min"] or found["s"]):
        return cell
    parts = [f"{found['min']} min" if found["min"] else "", f"{found['s']} s" if found["s"] else ""]
    return " ".join(part for part in parts if part)


def without_commas(cell: str, decimal_comma: bool) -> Tidied | None:
    """Return the text with decimal points only, None when a comma could mean either."""
    if "," not in cell:
        if decimal_comma and re.search(r"\d\.\d{3}(?!\d)", cell):
            return None
        return Tidied(cell, "")
    if re.search(r"\d,\d{3}(?:\D|$)", cell) and not decimal_comma:
        return None
    if cell.count(",") > 1 and not re.search(r"\d,\d+\D+\d+,\d", cell):
        return None
    pointed = re.sub(r"(?<=\d),(?=\d)", ".", cell)
    return Tidied(pointed, "" if decimal_comma else "decimal comma")
