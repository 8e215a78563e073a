"""What a workbook shows that its reader does not tell: errors, percents, merges, hidden rows."""

from __future__ import annotations

import html
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from io import BytesIO
from posixpath import join, normpath
from xml.etree import ElementTree

from weakstep.runlog.tables import Merged

_LOOK_IN = 64 * 1024**2
_MOST_DIGITS = 12  # of a number of cells; more is as good as endless
_HIDDEN_ROW = re.compile(rb'<(?:\w+:)?row\b[^>]*\bhidden="(?:1|true)"')
_CELL = re.compile(rb"<(?:\w+:)?c\b([^>]*?)(?:/>|>(.*?)</(?:\w+:)?c>)", re.DOTALL)
_PLACE = re.compile(rb'\br="([A-Z]{1,4})([0-9]{1,8})"')
_STYLE = re.compile(rb'\bs="([0-9]+)"')
_TYPE = re.compile(rb'\bt="(\w+)"')
_VALUE = re.compile(rb"<(?:\w+:)?v>(.+?)</(?:\w+:)?v>", re.DOTALL)
_FORMULA = re.compile(rb"<(?:\w+:)?f\b[^>]*?(?:/>|>(.*?)</(?:\w+:)?f>)", re.DOTALL)
_PERCENT_FORMATS = frozenset(["9", "10"])  # ECMA-376 part 1, 18.8.30: 0% and 0.00%


@dataclass
class Marks:
    """
    What one sheet shows beyond its values.

    Attributes
    ----------
    shown : dict of (row, column) to str
        Cells, counted from 0, whose text is not their value: errors, formulas that were never
        computed, and shares formatted as percent.
    merged : list of Merged
    hidden : int
        Number of hidden rows.
    errors : int
        Number of cells that show an error, or a formula without its value.
    """

    shown: dict[tuple[int, int], str] = field(default_factory=dict)
    merged: list[Merged] = field(default_factory=list)
    hidden: int = 0
    errors: int = 0


def marks_of(raw: bytes) -> dict[str, Marks]:
    """
    Return the marks of each sheet by its name; nothing where the format does not say.

    Raises
    ------
    zipfile.BadZipFile, ElementTree.ParseError, KeyError, ValueError
        The archive is damaged inside.
    """
    if not raw.startswith(b"PK"):
        return {}
    with zipfile.ZipFile(BytesIO(raw)) as archive:
        names = set(archive.namelist())
        if "content.xml" in names:
            return dict(_open_document(archive))
        if "xl/workbook.xml" not in names:
            return {}
        percents = _percent_styles(archive) if "xl/styles.xml" in names else frozenset()
        marks = {}
        for sheet, part in _sheet_parts(archive):
            if part in names and archive.getinfo(part).file_size <= _LOOK_IN:
                marks[sheet] = _sheet_marks(archive.read(part), percents)
        return marks


def _local(tag: str) -> str:
    return tag.rpartition("}")[2]


def _attribute(node: ElementTree.Element, name: str) -> str | None:
    return next((value for key, value in node.attrib.items() if _local(key) == name), None)


def _sheet_parts(archive: zipfile.ZipFile) -> Iterator[tuple[str, str]]:
    """Return each sheet's name and the part of the archive that holds it."""
    if "xl/_rels/workbook.xml.rels" not in archive.namelist():
        return
    targets = {
        node.get("Id"): normpath(join("xl", node.get("Target", ""))).lstrip("/")
        for node in ElementTree.fromstring(archive.read("xl/_rels/workbook.xml.rels"))
    }
    for node in ElementTree.fromstring(archive.read("xl/workbook.xml")).iter():
        if _local(node.tag) == "sheet":
            relation = next((v for k, v in node.attrib.items() if k.endswith("}id")), None)
            yield node.get("name", ""), targets.get(relation, "")


def _percent_styles(archive: zipfile.ZipFile) -> frozenset[bytes]:
    """Return the indices of the cell styles that show a share as percent."""
    root = ElementTree.fromstring(archive.read("xl/styles.xml"))
    formats = set(_PERCENT_FORMATS)
    for node in root.iter():
        if _local(node.tag) == "numFmt" and "%" in node.get("formatCode", ""):
            formats.add(node.get("numFmtId", ""))
    for node in root:
        if _local(node.tag) == "cellXfs":
            return frozenset(
                str(index).encode()
                for index, style in enumerate(node)
                if style.get("numFmtId") in formats
            )
    return frozenset()


def _sheet_marks(text: bytes, percents: frozenset[bytes]) -> Marks:
    marks = Marks(hidden=len(_HIDDEN_ROW.findall(text)))
    if not percents and b't="e"' not in text and b"<f" not in text and b":f" not in text:
        return marks
    for found in _CELL.finditer(text):
        place = _PLACE.search(found[1])
        if place is None:
            continue
        at = (int(place[2]) - 1, column_number(place[1]) - 1)
        body = found[2] or b""
        kind = _TYPE.search(found[1])
        value = _VALUE.search(body)
        style = _STYLE.search(found[1])
        if kind is not None and kind[1] == b"e":
            marks.shown[at] = "#ERROR" if value is None else value[1].decode("utf-8", "replace")
            marks.errors += 1
        elif value is None and (formula := _FORMULA.search(body)) is not None:
            written = html.unescape((formula[1] or b"").decode("utf-8", "replace"))
            marks.shown[at] = f"={written}"
            marks.errors += 1
        elif (
            style is not None
            and style[1] in percents
            and value is not None
            and (kind is None or kind[1] == b"n")
        ):
            marks.shown[at] = percent(value[1].decode("ascii", "replace"))
    return marks


def percent(share: str) -> str:
    """
    Return a share as the percent that a screen shows.

    Examples
    --------
    >>> percent("0.455"), percent("what")
    ('45.5%', 'what')
    """
    try:
        return f"{float(share) * 100:.12g}%"
    except ValueError:
        return share


def column_number(letters: bytes) -> int:
    """
    Return the number of a column from 1.

    Examples
    --------
    >>> column_number(b"A"), column_number(b"AB")
    (1, 28)
    """
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number


def _open_document(archive: zipfile.ZipFile) -> Iterator[tuple[str, Marks]]:
    """Return the marks of the sheets of an OpenDocument file (OASIS ODF 1.3, part 3)."""
    if archive.getinfo("content.xml").file_size > _LOOK_IN:
        return
    for table in ElementTree.fromstring(archive.read("content.xml")).iter():
        if _local(table.tag) == "table":
            yield _attribute(table, "name") or "", _table_marks(table)


def _table_marks(table: ElementTree.Element) -> Marks:
    marks = Marks()
    row = 0
    for node in table.iter():
        if _local(node.tag) != "table-row":
            continue
        repeated = _count(node, "number-rows-repeated")
        if _attribute(node, "visibility") in ("collapse", "filter"):
            marks.hidden += repeated
        column = 0
        for cell in node:
            if _local(cell.tag) in ("table-cell", "covered-table-cell"):
                _mark_cell(marks, cell, row, column)
                column += _count(cell, "number-columns-repeated")
        row += repeated
    return marks


def _mark_cell(marks: Marks, cell: ElementTree.Element, row: int, column: int) -> None:
    down, across = _count(cell, "number-rows-spanned"), _count(cell, "number-columns-spanned")
    if down > 1 or across > 1:
        marks.merged.append(Merged(column, row + 1, row + down, across))
    kind = _attribute(cell, "value-type")
    if kind == "percentage":
        marks.shown[row, column] = percent(_attribute(cell, "value") or "")
    shown = "".join(cell.itertext()).strip() if len(cell) else ""
    if shown.startswith(("#", "Err:")) and _attribute(cell, "formula") is not None:
        marks.shown[row, column] = shown
        marks.errors += 1


def _count(node: ElementTree.Element, name: str) -> int:
    return how_often(_attribute(node, name))


def how_often(said: str | None) -> int:
    """
    Return how often a cell or row says that it is there, once where it does not say.

    Examples
    --------
    >>> how_often("12"), how_often(None), how_often("9" * 5000)
    (12, 1, 999999999999)
    """
    if said is None or not said.isdecimal():
        return 1
    return int(said.lstrip("0")[:_MOST_DIGITS] or 0)
