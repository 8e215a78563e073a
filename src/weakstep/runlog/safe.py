"""Text of a log on its way into a file that a spreadsheet opens: no cell may act as a formula."""

from __future__ import annotations

import re

_ACTS = ("=", "+", "-", "@", "\t", "\r", "\n")
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+-]?[0-9]+)?%?")


def safe_cell(text: str) -> str:
    """
    Return *text* with an apostrophe in front when a spreadsheet could take it for a formula.

    Examples
    --------
    >>> safe_cell("=1+1"), safe_cell("-5"), safe_cell("-5 to 3"), safe_cell("good")
    ("'=1+1", '-5', "'-5 to 3", 'good')
    """
    if text.startswith(_ACTS) and _NUMBER.fullmatch(text) is None:
        return "'" + text
    return text


def as_typed(cell: str) -> str:
    """
    Return a cell without spaces around it and without the apostrophe of `safe_cell`.

    Examples
    --------
    >>> as_typed(" 30 "), as_typed("'=1+1"), as_typed("'tis")
    ('30', '=1+1', "'tis")
    """
    text = cell.lstrip()
    if text.startswith("'") and text[1:].startswith(_ACTS):
        return text[1:].strip()
    return text.rstrip()
