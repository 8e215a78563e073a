"""Numbers into plain words: counts, shares, chances, levels, dates."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import datetime

import numpy as np

from weakstep.failures.words import percent as spaced_percent
from weakstep.failures.words import percent_range as spaced_percent_range
from weakstep.interval import Interval

MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip
PER_CENT = "\u00a0%"


def count(number: int, singular: str, plural: str | None = None) -> str:
    """
    Return a count with its noun: "no chips", "1 chip", "52 chips".

    Examples
    --------
    >>> count(0, "chip"), count(1, "chip"), count(2, "analysis", "analyses")
    ('no chips', '1 chip', '2 analyses')
    """
    noun = singular if number == 1 else plural or f"{singular}s"
    return f"{'no' if number == 0 else grouped(number)} {noun}"


def grouped(number: int) -> str:
    r"""
    Return an integer with a thin space between thousands.

    Examples
    --------
    >>> grouped(12500)
    '12\u202f500'
    """
    return f"{number:,}".replace(",", "\u202f")


def times(number: int) -> str:
    """
    Return how often: "once", "twice", "3 times".

    Examples
    --------
    >>> times(1), times(2), times(3)
    ('once', 'twice', '3 times')
    """
    return {1: "once", 2: "twice"}.get(number, f"{grouped(number)} times")


def agree(number: int, singular: str, plural: str) -> str:
    """
    Return the verb that agrees with a count.

    Examples
    --------
    >>> agree(1, "was", "were"), agree(0, "was", "were")
    ('was', 'were')
    """
    return singular if number == 1 else plural


def listed(parts: Sequence[str], joiner: str = "and") -> str:
    """
    Return parts as a spoken list.

    Examples
    --------
    >>> listed(["a"]), listed(["a", "b"]), listed(["a", "b", "c"], "or")
    ('a', 'a and b', 'a, b or c')
    """
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} {joiner} {parts[-1]}"


def capital(text: str) -> str:
    """
    Return text that begins with a capital letter.

    Examples
    --------
    >>> capital("plasma time"), capital("")
    ('Plasma time', '')
    """
    return text[:1].upper() + text[1:]


def sentence(text: str) -> str:
    """
    Return text that begins with a capital and ends with a full stop.

    Examples
    --------
    >>> sentence("too few values"), sentence("Done.")
    ('Too few values.', 'Done.')
    """
    text = text.strip()
    if not text:
        return ""
    ended = text if text[-1] in ".!?" else f"{text}."
    return ended[0].upper() + ended[1:]


def percent(share: float) -> str:
    r"""
    Return a share as a whole per cent whose sign never parts from its number.

    Examples
    --------
    >>> percent(0.179), percent(0.002)
    ('18\xa0%', 'under 1\xa0%')
    """
    return spaced_percent(share).replace(" %", PER_CENT)


def percent_range(value: Interval) -> str:
    r"""
    Return the ends of an interval of shares: "10 to 55 %".

    Examples
    --------
    >>> percent_range(Interval(0.3, 0.1, 0.55, 0.9))
    '10 to 55\xa0%'
    """
    return spaced_percent_range(value).replace(" %", PER_CENT)


def share_words(share: Interval) -> str:
    r"""
    Return a share with its interval.

    Examples
    --------
    >>> share_words(Interval(0.3, 0.1, 0.55, 0.9))
    '30\xa0% (10 to 55\xa0%)'
    """
    return f"{percent(share.estimate)} ({percent_range(share)})"


def level(value: Interval) -> str:
    r"""
    Return the level of an interval in words.

    Examples
    --------
    >>> level(Interval(0.3, 0.1, 0.55, 0.9))
    '90\xa0% interval'
    """
    return f"{value.level * 100:g}\u00a0% interval"


def one_in(share: float) -> str:
    """
    Return a share as a count that can be pictured: "about 1 in 6", "about 2 in 3".

    Examples
    --------
    >>> one_in(0.17), one_in(0.66), one_in(0.0), one_in(1.0), one_in(0.003)
    ('about 1 in 6', 'about 2 in 3', 'none', 'all', 'about 1 in 330')
    """
    if share <= 0:
        return "none"
    if share >= 1:
        return "all"
    if share <= 0.22:
        return f"about 1 in {grouped(_two_digits(1 / share))}"
    pairs = [(top, bottom) for bottom in (2, 3, 4, 5, 10) for top in range(1, bottom)]
    top, bottom = min(pairs, key=lambda pair: abs(pair[0] / pair[1] - share))
    if share > 0.95:
        return f"all but about 1 in {grouped(_two_digits(1 / (1 - share)))}"
    return f"about {top} in {bottom}"


def _two_digits(value: float) -> int:
    unit: int = 10 ** max(0, math.floor(math.log10(value)) - 1)
    return round(value / unit) * unit


def chance(p: float) -> str:
    r"""
    Return a p-value as the frequency it stands for.

    Examples
    --------
    >>> chance(0.0004), chance(0.04), chance(0.6)
    ('fewer than 1 in 1\u202f000', 'about 1 in 25', 'about 3 in 5')
    """
    if p < 0.001:
        return "fewer than 1 in 1\u202f000"
    return "nearly all" if p > 0.95 else one_in(p)


def p_value(p: float | None) -> str:
    r"""
    Return a p-value to the digits it supports, an en dash when there is none.

    Examples
    --------
    >>> p_value(0.0004), p_value(0.0123), p_value(0.456), p_value(None)
    ('<\xa00.001', '0.012', '0.46', '–')
    """
    if p is None or not math.isfinite(p):
        return "–"
    if p < 0.001:
        return "<\u00a00.001"
    return f"{p:.3f}" if p < 0.1 else f"{p:.2f}"


def plain(value: float, decimals: int | None = None) -> str:
    """
    Return a number for reading: fixed decimals, or three significant digits.

    Examples
    --------
    >>> plain(12.345, 1), plain(0.012345), plain(1234.5, 0), plain(-0.04, 1), plain(float("nan"))
    ('12.3', '0.0123', '1234', '0.0', '–')
    """
    if not math.isfinite(value):
        return "–"
    if decimals is None:
        magnitude = math.floor(math.log10(abs(value))) if value else 0
        decimals = max(0, 2 - magnitude)
    text = f"{value:.{decimals}f}"
    if float(text) == 0:
        text = text.removeprefix("-")
    return text.replace("-", "\u2212")


def date(moment: np.datetime64) -> str:
    r"""
    Return a date that cannot be misread: "2 March 2026"; "" when unknown.

    Examples
    --------
    >>> date(np.datetime64("2026-03-02T09:00")), date(np.datetime64("NaT"))
    ('2\xa0March 2026', '')
    """
    if np.isnat(moment):
        return ""
    year, month, day = str(moment.astype("datetime64[D]")).split("-")
    return f"{int(day)}\u00a0{MONTHS[int(month) - 1]} {year}"


def moment(iso: str | None) -> str:
    r"""
    Return an ISO time as it is said: "2 March 2026, 09:05 UTC"; "" for none, others as they are.

    Examples
    --------
    >>> moment("2026-03-02T09:05:59+00:00"), moment(None), moment("today")
    ('2\xa0March 2026, 09:05 UTC', '', 'today')
    """
    if iso is None:
        return ""
    try:
        known = datetime.fromisoformat(iso)
    except ValueError:
        return iso
    zone = f" {known.tzname()}" if known.tzinfo else ""
    return f"{date(np.datetime64(known.date()))}, {known:%H:%M}{zone}"


def short_date(moment: np.datetime64, *, year: bool = False) -> str:
    """
    Return a date for an axis: "2 Mar", or "Mar 2026" where years matter; "" when unknown.

    Examples
    --------
    >>> short_date(np.datetime64("2026-03-02")), short_date(np.datetime64("2026-03-02"), year=True)
    ('2 Mar', 'Mar 2026')
    """
    if np.isnat(moment):
        return ""
    years, month, day = str(moment.astype("datetime64[D]")).split("-")
    name = MONTHS[int(month) - 1][:3]
    return f"{name} {years}" if year else f"{int(day)} {name}"


def kept_together(text: str) -> str:
    r"""
    Return text in which a number and the unit after it never part at the end of a line.

    Examples
    --------
    >>> kept_together("at most 45 s, 18 %") == "at most 45\u00a0s, 18\u00a0%"
    True
    """
    return re.sub(r"(?<=\d) (?=(?:[^\W\d]{1,3}|°C|%)(?:\b|\W|$))", "\u00a0", text)
