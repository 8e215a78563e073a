"""Typed reading of one table of a description: every error names file and key."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable, Mapping
from typing import Any, NoReturn

from weakstep.errors import ProcessError


class Entries:
    """
    One table of a description, read key by key.

    Parameters
    ----------
    file : str
        Name of the description, for messages.
    path : str
        Dotted key of this table; empty for the top of the file.
    data : object
        What the file holds there; refused when it is not a table.
    """

    def __init__(self, file: str, path: str, data: object) -> None:
        self.file = file
        self.path = path
        if not isinstance(data, Mapping):
            self.refuse("", data, "a table")
        self._data: Mapping[str, Any] = data

    def key(self, name: str) -> str:
        """Return the dotted key of *name* in this table."""
        return ".".join(part for part in (self.path, name) if part)

    def refuse(self, name: str, found: object, expected: str) -> NoReturn:
        """Raise a ProcessError for the entry *name*."""
        msg = f"{self.file}: {self.key(name)}: found {found!r}, expected {expected}."
        raise ProcessError(msg)

    def fail(self, name: str, sentence: str) -> NoReturn:
        """Raise a ProcessError with a *sentence* of its own."""
        msg = f"{self.file}: {self.key(name)}: {sentence}"
        raise ProcessError(msg)

    def only(self, known: Iterable[str]) -> None:
        """Refuse keys that are not *known*, offering the nearest known one."""
        known = tuple(known)
        for name in self._data:
            if name not in known:
                near = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
                hint = f"did you mean {near[0]!r}" if near else "known are " + ", ".join(known)
                self.fail(name, f"unknown key; {hint}?" if near else f"unknown key; {hint}.")

    def has(self, name: str) -> bool:
        """Whether the table holds *name*."""
        return name in self._data

    def text(self, name: str, default: str | None = None) -> str:
        """Return a text; required when *default* is None."""
        value = self._data.get(name, default)
        if value is None:
            self.fail(name, "is missing, expected a text.")
        if not isinstance(value, str):
            self.refuse(name, value, "a text")
        return value

    def choice(self, name: str, allowed: tuple[str, ...], default: str | None = None) -> str:
        """Return one of the *allowed* words."""
        value = self.text(name, default)
        if value not in allowed:
            self.refuse(name, value, "one of " + ", ".join(allowed))
        return value

    def number(self, name: str) -> float | None:
        """Return a finite number, or None when the entry is absent."""
        value = self._data.get(name)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.refuse(name, value, "a number")
        if not math.isfinite(value):
            self.refuse(name, value, "a finite number")
        return float(value)

    def positive(self, name: str, default: float) -> float:
        """Return a number above zero."""
        value = self.number(name)
        if value is None:
            return default
        if value <= 0:
            self.refuse(name, self._data[name], "a number above 0")
        return value

    def count(self, name: str, default: int) -> int:
        """Return a whole number from 0 to 9."""
        value = self._data.get(name, default)
        if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= 9:
            self.refuse(name, value, "a whole number from 0 to 9")
        return value

    def boolean(self, name: str, default: bool = False) -> bool:
        """Return true or false."""
        value = self._data.get(name, default)
        if not isinstance(value, bool):
            self.refuse(name, value, "true or false")
        return value

    def texts(self, name: str) -> tuple[str, ...]:
        """Return a list of texts, empty when absent."""
        value = self._data.get(name, [])
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            self.refuse(name, value, "a list of texts")
        return tuple(value)

    def pairs(self, name: str) -> tuple[tuple[str, str], ...]:
        """Return a list of pairs of texts, empty when absent."""
        value = self._data.get(name, [])
        expected = 'a list of pairs such as [["plasma_s", "delay_s"]]'
        if not isinstance(value, list):
            self.refuse(name, value, expected)
        pairs = []
        for item in value:
            if (
                not isinstance(item, list)
                or len(item) != 2
                or not all(isinstance(part, str) for part in item)
            ):
                self.refuse(name, item, expected)
            pairs.append((item[0], item[1]))
        return tuple(pairs)

    def number_or_name(self, name: str) -> float | str | None:
        """Return a number, or the text naming a column, or None when absent."""
        if isinstance(self._data.get(name), str):
            return self.text(name)
        return self.number(name)

    def table(self, name: str) -> Entries:
        """Return the table under *name*, empty when absent."""
        return Entries(self.file, self.key(name), self._data.get(name, {}))

    def tables(self) -> dict[str, Entries]:
        """Return every entry of this table as a table of its own, in order."""
        return {
            name: Entries(self.file, self.key(name), value) for name, value in self._data.items()
        }

    def names(self) -> tuple[str, ...]:
        """Return the keys in order."""
        return tuple(self._data)
