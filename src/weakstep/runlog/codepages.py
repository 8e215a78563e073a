"""Which code page a file that is not UTF-8 was written in."""

from __future__ import annotations

import re

WESTERN = "cp1252"
# Name by which people know each code page that a spreadsheet or an instrument writes a CSV file in.
NAMES = {
    WESTERN: "CP1252 (Western European)",
    "cp1250": "CP1250 (Central European)",
    "mac_roman": "Mac Roman (old Macintosh)",
    "cp850": "CP850 (DOS)",
    "cp1251": "CP1251 (Cyrillic)",
}
# A right quote inside a word is an apostrophe, dashes and the middle dot join words.
_SIGN_IN_WORD = re.compile(
    r"[^\W\d_](?![\x00-\x7f\u2019\u2018\u2013\u2014\u00b7])[^\w\s][^\W\d_]"
    r"|[^\W\d_][\u00c0-\u00d6\u00d8-\u00de\u0152\u0160\u0178\u017d][a-z\u00df-\u00ff]"
)
_SAMPLE = 1 << 16
# Shares of odd neighbours among letters: a page must be that much less odd than the usual one.
_CLEARLY_LESS_ODD = 0.015


def code_page(raw: bytes) -> str | None:
    """
    Return the code page of bytes that are not UTF-8, None when no page makes text of them.

    Only lines with letters beyond ASCII say anything, and few such letters fool any detector. So
    CP1252, by far the most usual, stands unless another page makes the text clearly less odd, as
    charset-normalizer counts it (the share of letters whose neighbours do not go together). A
    name or two in Czech letters alone may therefore be read as Western ones; the note says so.

    Examples
    --------
    >>> code_page("Dvořák;měření špatné;zażółć gęślą jaźń".encode("cp1250"))
    'cp1250'
    >>> code_page("Ofen (°C)".encode("cp1252"))
    'cp1252'
    """
    from charset_normalizer import from_bytes

    lines = raw.replace(b"\r", b"\n").split(b"\n")
    sample = b"\n".join(line for line in lines if not line.isascii())[:_SAMPLE]
    odd: dict[str, float] = {}
    for match in from_bytes(sample, cp_isolation=list(NAMES), threshold=1.0):
        # Pages that give the same text are listed with the first of them.
        for page in (match.encoding, *match.could_be_from_charset):
            odd[page] = min(match.chaos, odd.get(page, match.chaos))
    usable = {page: oddness for page, oddness in odd.items() if page in NAMES}
    usable = {page: oddness for page, oddness in usable.items() if _decodes(raw, page)}
    if not usable:
        return WESTERN if _decodes(raw, WESTERN) else None
    best = min(usable, key=lambda page: (usable[page], page != WESTERN))
    if _decodes(raw, WESTERN) and odd.get(WESTERN, 1.0) <= usable[best] + _CLEARLY_LESS_ODD:
        return WESTERN
    return best


def looks_odd(text: str) -> bool:
    """
    Whether a sign that is no letter, or a capital, stands inside a word: signs beyond ASCII only.

    Examples
    --------
    >>> looks_odd("Verz”gerung"), looks_odd("MŸller"), looks_odd("Ofen (°C), „warm“")
    (True, True, False)
    """
    return _SIGN_IN_WORD.search(text) is not None


def _decodes(raw: bytes, page: str) -> bool:
    try:
        raw.decode(page)
    except UnicodeDecodeError:
        return False
    return True
