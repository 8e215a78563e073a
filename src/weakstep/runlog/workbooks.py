"""Workbooks (XLSX, XLSM, XLS, ODS) -> one table per sheet; the only home of their reader."""

from __future__ import annotations

import datetime
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from io import BytesIO
from typing import TYPE_CHECKING, Any, NoReturn
from xml.etree import ElementTree

from weakstep.errors import LogError
from weakstep.runlog.tables import Merged, Table, TableBuilder
from weakstep.runlog.workbook_marks import Marks, column_number, how_often, marks_of

if TYPE_CHECKING:
    from python_calamine import CalamineSheet, SheetMetadata

MOST_CELLS = 5_000_000
_MOST_UNPACKED = 400 * 1024**2
_MOST_PACKING = 200
_SHEET_PART = re.compile(r"xl/worksheets/[^/]+\.xml|content\.xml")
_REFERENCE = re.compile(rb'<(?:\w+:)?c\b[^>]*?\br="([A-Z]{1,4})([0-9]{1,8})"')
# What the readers of archives and of XML raise on damaged bytes, and nothing else.
_DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    ElementTree.ParseError,
    EOFError,
    KeyError,
    NotImplementedError,  # an unknown way of packing
    OSError,
    RuntimeError,  # a locked archive
    ValueError,
    struct.error,
)
_CHUNK = 1 << 20
_OVERLAP = 256


@dataclass(frozen=True, eq=False)
class Workbook:
    """
    A workbook that was read.

    Attributes
    ----------
    tables : list of Table
        One per sheet that holds anything.
    hidden, errors : int
        Rows that are hidden, and cells that show an error or a formula without its value.
    concealed : tuple of str
        Names of the tables whose sheet is hidden.
    """

    tables: list[Table]
    hidden: int
    errors: int
    concealed: tuple[str, ...]


def is_workbook(raw: bytes) -> bool:
    """Whether the bytes begin as those of a workbook do; its name may say anything."""
    return raw.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0"))


def read_workbook(raw: bytes, name: str) -> Workbook:
    """
    Return every sheet of a workbook that holds anything; cells become the texts they show.

    Parameters
    ----------
    raw : bytes
        The file's content.
    name : str
        The file's name in messages; sheets are told apart by their names in brackets.

    Raises
    ------
    LogError
        The file is damaged, locked by a password, empty, or unreasonably large.
    """
    import python_calamine

    _refuse_bombs(raw, name)
    marks = _marks(raw)
    hidden = sum(one.hidden for one in marks.values())
    errors = sum(one.errors for one in marks.values())
    try:
        book = python_calamine.load_workbook(BytesIO(raw))
        sheets = [book.get_sheet_by_name(sheet) for sheet in book.sheet_names]
        tables = [_table(sheet, name, marks.get(sheet.name) or Marks()) for sheet in sheets]
    except python_calamine.PasswordError:
        msg = f"{name}: the workbook is locked by a password. Save an open copy and give that."
        raise LogError(msg) from None
    except (python_calamine.CalamineError, OSError, ValueError) as error:
        msg = f"{name}: the workbook cannot be read ({error}). Save the sheet as CSV and give that."
        raise LogError(msg) from None
    held = [table for table in tables if len(table)]
    if not held:
        msg = f"{name}: no sheet of the workbook holds anything. Give a log with a header and rows."
        raise LogError(msg)
    if len(held) == 1:
        held = [replace(held[0], file=name)]
    unseen = [meta.name for meta in book.sheets_metadata if not _is_visible(meta)]
    concealed = tuple(table.file for table in held if _sheet_name(table.file) in unseen)
    return Workbook(held, hidden, errors, concealed)


def _is_visible(meta: SheetMetadata) -> bool:
    from python_calamine import SheetVisibleEnum

    return meta.visible == SheetVisibleEnum.Visible


def _sheet_name(file: str) -> str:
    return file[file.index(" [") + 2 : -1] if " [" in file else ""


def _marks(raw: bytes) -> dict[str, Marks]:
    """Return what the sheets show beyond their values; nothing where that cannot be told."""
    try:
        return marks_of(raw)
    except _DAMAGED:
        return {}


def _table(sheet: CalamineSheet, name: str, marks: Marks) -> Table:
    builder = TableBuilder()
    shown: dict[int, dict[int, str]] = {}
    for (row, column), text in marks.shown.items():
        shown.setdefault(row, {})[column] = text
    for number, cells in enumerate(sheet.to_python(skip_empty_area=False)):
        texts = [_text(cell) for cell in cells]
        for column, text in shown.get(number, {}).items():
            texts += [""] * (column + 1 - len(texts))
            texts[column] = text
        builder.add(number + 1, texts)
    # Numbers of a workbook come with a point whatever the screen shows.
    table = builder.built(f"{name} [{sheet.name}]", lambda _columns: False)
    return replace(table, merged=tuple(marks.merged or _merged(sheet)))


def _merged(sheet: CalamineSheet) -> Iterator[Merged]:
    for (top, left), (bottom, right) in sheet.merged_cell_ranges or ():
        yield Merged(left, top + 1, bottom + 1, right - left + 1)


def _text(cell: Any) -> str:
    """
    Return what a person would type for the cell.

    Examples
    --------
    >>> _text(10.0), _text(0.1), _text(datetime.time(10, 1)), _text(True)
    ('10', '0.1', '10:01', 'yes')
    >>> _text(datetime.datetime(2026, 3, 2)), _text(datetime.datetime(2026, 3, 2, 14, 5))
    ('2026-03-02', '2026-03-02 14:05')
    """
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return f"{cell:.15g}"
    if isinstance(cell, datetime.datetime):
        text = cell.isoformat(" ", "seconds").removesuffix(":00")
        return text.removesuffix(" 00:00")
    if isinstance(cell, datetime.time):
        return _clock(cell.hour, cell.minute, cell.second)
    if isinstance(cell, datetime.timedelta):
        minutes, seconds = divmod(round(cell.total_seconds()), 60)
        return _clock(*divmod(minutes, 60), seconds)
    return str(cell)


def _clock(hours: int, minutes: int, seconds: int) -> str:
    return f"{hours}:{minutes:02d}" + (f":{seconds:02d}" if seconds else "")


def _refuse_bombs(raw: bytes, name: str) -> None:
    """Refuse archives that unpack to absurd sizes, and sheets of more than five million cells."""
    if not raw.startswith(b"PK"):
        return
    try:
        with zipfile.ZipFile(BytesIO(raw)) as archive:
            size = sum(part.file_size for part in archive.infolist())
            if size > _MOST_UNPACKED or size > max(_MOST_PACKING * len(raw), 64 * 1024**2):
                _refuse_large(name, f"unpacks to {size / 1024**2:.0f} MB")
            for part in archive.namelist():
                if _SHEET_PART.fullmatch(part):
                    _refuse_many_cells(archive, part, name)
    except _DAMAGED as error:
        msg = f"{name}: the workbook is damaged ({error}). Save the sheet as CSV and give that."
        raise LogError(msg) from None


def _refuse_many_cells(archive: zipfile.ZipFile, part: str, name: str) -> None:
    area = _ods_cells(archive, part) if part == "content.xml" else _xlsx_area(archive, part)
    if area > MOST_CELLS:
        _refuse_large(name, f"has a sheet of {area} cells")


def _refuse_large(name: str, how: str) -> NoReturn:
    msg = (
        f"{name}: the workbook {how}, more than any log needs, and was not opened. "
        "Delete what stands far below or right of the log, or save the sheet as CSV."
    )
    raise LogError(msg)


def _xlsx_area(archive: zipfile.ZipFile, part: str) -> int:
    """Return rows times columns up to the last cell of a sheet, without opening it as one."""
    rows, columns, rest = 0, 0, b""
    with archive.open(part) as stream:
        while chunk := stream.read(_CHUNK):
            rest = rest[-_OVERLAP:] + chunk
            for letters, digits in set(_REFERENCE.findall(rest)):
                rows = max(rows, int(digits))
                columns = max(columns, column_number(letters))
    return rows * columns


def _ods_cells(archive: zipfile.ZipFile, part: str) -> int:
    """Return the number of filled cells of all sheets, repeated ones counted as often."""
    total = 0
    with archive.open(part) as stream:
        for _, node in ElementTree.iterparse(stream):  # expat bounds entities
            if not node.tag.endswith("}table-row"):
                continue
            width = sum(_repeated(cell, "columns") for cell in node if len(cell))
            total += width * _repeated(node, "rows")
            node.clear()
    return total


def _repeated(node: ElementTree.Element, what: str) -> int:
    for key, value in node.attrib.items():
        if key.endswith(f"}}number-{what}-repeated"):
            return how_often(value)
    return 1
