"""Headers of a log -> the columns of the description, through aliases and units."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from weakstep.process.model import Parameter, Process
from weakstep.process.words import plain
from weakstep.runlog.model import ColumnMatch
from weakstep.runlog.units import gauge_unit, same_kind, unit_named

_BRACKETED = re.compile(r"^(?P<base>.*?)\s*[(\[](?P<inside>[^()\[\]]*)[)\]]\s*$")
_GAUGE = re.compile(r"\b(?:gauge|gage|rel|relative?|relativdruck|manom\w*)\b", re.IGNORECASE)
_JOINED = re.compile(r"^(?P<base>.+?)(?:\s*[,/]\s*|\s+in\s+|[\s_]+)(?P<inside>[^\s_,/]+)$")


_HARMLESS = re.compile(
    r"set|soll|ist|nom|nominal|real|est|avg|mean|approx|ca|w/w|\d+|optional", re.I
)
NOT_ABSOLUTE = "a gauge pressure is not an absolute one"
_ALIKE = 0.75
LEFT_OUT = "words in brackets left out"
UNKNOWN_UNIT = "words in brackets left out, which could be a unit"


def is_absolute(parameter: Parameter) -> bool:
    """Whether a column holds absolute pressures, which a gauge shows as negative ones."""
    lower = parameter.lower
    return same_kind(parameter.unit, "Pa") and lower is not None and lower > 0


@dataclass(frozen=True)
class HeaderMatch:
    """What one header was taken for: no parameter when nothing fits."""

    parameter: Parameter | None
    unit: str
    how: str


class HeaderBook:
    """All words that name a column of a process, after what a mapping file chose for a header."""

    def __init__(self, process: Process, chosen: Mapping[str, HeaderMatch] | None = None) -> None:
        self._chosen = chosen or {}
        self._parameters = process.parameters
        self._words: dict[str, Parameter] = {}
        self._nearest: dict[str, str | None] = {}
        self._stems: dict[str, list[Parameter]] = {}
        for parameter in process.parameters:
            for word in (parameter.name, *parameter.aliases):
                self._words.setdefault(plain(word), parameter)
            stem, _, suffix = parameter.name.rpartition("_")
            if stem and unit_named(suffix):
                self._stems.setdefault(plain(stem), []).append(parameter)

    def match(self, header: str) -> HeaderMatch:
        """Return the column that *header* names, and the unit it states."""
        chosen = self._chosen.get(" ".join(header.split()))
        if chosen is not None:
            return chosen
        word = plain(header)
        if word not in self._words:
            word = plain(header.strip(" ?!*#"))
        if word in self._words:
            parameter = self._words[word]
            how = "name" if word == plain(parameter.name) else "alias"
            return HeaderMatch(parameter, parameter.unit, how)
        for pattern in (_BRACKETED, _JOINED):
            found = pattern.match(header.strip())
            if found is None:
                continue
            match = self._with_unit(plain(found["base"]), found["inside"])
            if match is not None:
                return match
            if pattern is _BRACKETED and unit_named(found["inside"]) is None:
                inner = self.match(found["base"])
                if inner.parameter is not None:
                    return _left_out(inner, found["inside"])
        stems = self._stems.get(word, [])
        if len(stems) == 1:
            return HeaderMatch(stems[0], stems[0].unit, "name without its unit")
        return HeaderMatch(None, "", "nothing fits")

    def _with_unit(self, base: str, inside: str) -> HeaderMatch | None:
        """Match *base* among the columns whose unit is of the kind written in the header."""
        gauge = gauge_unit(inside)
        unit = unit_named(inside) if gauge is None else gauge
        if unit is None:
            return None
        candidates = [self._words[base]] if base in self._words else []
        candidates += self._stems.get(base, [])
        for parameter in candidates:
            if parameter.kind == "number" and same_kind(unit, parameter.unit):
                if gauge is not None and is_absolute(parameter):
                    return HeaderMatch(None, "", NOT_ABSOLUTE)
                how = "unit in the header"
                if unit != parameter.unit:
                    how = f"unit in the header, converted from {unit} to {parameter.unit}"
                return HeaderMatch(parameter, unit, how)
        return None

    def is_chosen(self, header: str) -> bool:
        """Whether a mapping file says what *header* is."""
        return " ".join(header.split()) in self._chosen

    def nearest(self, header: str) -> str | None:
        """Return the column whose words look most like *header*, None when none does."""
        found = _BRACKETED.match(header.strip())
        word = plain(found["base"] if found else header)
        if word not in self._nearest:
            # Texts of very different lengths cannot be that alike; most are not worth a look.
            like = [
                other for other in self._words if 0.6 <= (len(other) + 1) / (len(word) + 1) <= 1.7
            ]
            near = difflib.get_close_matches(word, like, n=1, cutoff=_ALIKE)
            self._nearest[word] = self._words[near[0]].name if near else None
        return self._nearest[word]


def _left_out(inner: HeaderMatch, inside: str) -> HeaderMatch:
    """Match a header without the words in its brackets, which are no unit that is known."""
    parameter = inner.parameter
    if parameter is not None and _GAUGE.search(inside) and is_absolute(parameter):
        return HeaderMatch(None, "", NOT_ABSOLUTE)
    word = inside.strip()
    if parameter is not None and parameter.unit and plain(word) == plain(parameter.unit):
        # A unit of the lab's own that no conversion knows, as the description writes it.
        return HeaderMatch(parameter, parameter.unit, "unit in the header")
    has_unit = parameter is not None and parameter.kind == "number" and parameter.unit != ""
    short = 0 < len(word) <= 6 and " " not in word and not _HARMLESS.fullmatch(word)
    return HeaderMatch(parameter, inner.unit, UNKNOWN_UNIT if has_unit and short else LEFT_OUT)


def match_headers(
    file: str, headers: Sequence[str], units: Sequence[str], book: HeaderBook
) -> tuple[list[ColumnMatch], list[str]]:
    """
    Match all headers of a file.

    Parameters
    ----------
    file : str
    headers : sequence of str
    units : sequence of str
        What a line of units below the header says for each column; empty texts without one.
    book : HeaderBook

    Returns
    -------
    matches : list of ColumnMatch
        One per header; a column named twice keeps its first header.
    repeated : list of str
        Headers left alone because an earlier one already gave their column.
    """
    matches: list[ColumnMatch] = []
    repeated: list[str] = []
    taken: set[str] = set()
    for header, unit in zip(headers, units, strict=True):
        match = book.match(header) if header.strip() else HeaderMatch(None, "", "no header")
        if header.strip() and unit and not book.is_chosen(header):
            with_unit = book.match(f"{header} ({unit})")
            match = with_unit if with_unit.parameter is not None else match
        name = match.parameter.name if match.parameter else None
        how = match.how
        if name in taken:
            repeated.append(header)
            name, how = None, f"an earlier header already gives {name}"
        elif name is not None:
            taken.add(name)
        matches.append(ColumnMatch(file, header.strip(), name, match.unit if name else "", how))
    return matches, repeated
