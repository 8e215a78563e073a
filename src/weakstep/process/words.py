"""How words of headers, outcomes and names are compared: by sense, not by capitals or dashes."""

from __future__ import annotations

import re
import unicodedata

_JOINTS = re.compile(r"[\s_\-./:,;'\"()\[\]]+")


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
