"""Numbers on the command line: read, or refused in one sentence."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable

Number = TypeVar("Number", int, float)


def number(
    kind: Callable[[str], Number], expected: str, allowed: Callable[[Number], bool]
) -> Callable[[str], Number]:
    """
    Make a reader of one kind of number, as argparse wants it.

    Parameters
    ----------
    kind : function
        `int` or `float`.
    expected : str
        What the sentence asks for ("a number above 0").
    allowed : function
        Whether a number will do.

    Examples
    --------
    >>> number(int, "a whole number", lambda value: value >= 0)("12")
    12
    """

    def read(text: str) -> Number:
        try:
            value = kind(text)
            if allowed(value):
                return value
        except ValueError:
            pass
        message = f"found {text!r}, expected {expected}"
        raise argparse.ArgumentTypeError(message)

    return read
