"""
Write the hostile workbooks: merged, hidden, dated from 1904, half text: python books.py.

What their cells honestly mean stands in cases.toml.
"""

from __future__ import annotations

import datetime
import zipfile
from collections.abc import Callable, Sequence
from pathlib import Path
from xml.sax.saxutils import escape

import openpyxl
from openpyxl.styles import Font
from openpyxl.utils.datetime import CALENDAR_MAC_1904
from openpyxl.worksheet.worksheet import Worksheet

OPEN_DOCUMENT = "application/vnd.oasis.opendocument.spreadsheet"
NAMESPACES = " ".join(
    f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
    for name in ("office", "table", "text")
)


def fill(sheet: Worksheet, rows: Sequence[Sequence[object]]) -> None:
    """Put rows into a sheet from its first cell on."""
    for number, row in enumerate(rows, start=1):
        for place, value in enumerate(row, start=1):
            if value is not None:
                sheet.cell(number, place, value)


def merged_headers(path: Path) -> None:
    """Write groups merged across columns, and date, run and operator merged down."""
    book = openpyxl.Workbook()
    sheet = book.active
    day = datetime.datetime(2026, 3, 2)
    fill(
        sheet,
        [
            ["Bonding log", *[None] * 9],
            ["Run", None, None, "Mixing", None, "Plasma", None, None, "Result", None],
            ["No.", "date", "who", "base (g)", "agent (g)", "time (s)", "power (W)",
             "pressure (Pa)", "chip", "outcome"],
            ["R1", day, "AK", 30.1, 3.0, 40, 30, 60, "C1", "good"],
            [None, None, None, 30.0, 3.0, 40, 30, 60, "C2", "leak"],
            [None, None, None, 29.9, 3.1, 40, 30, 61, "C3", "good"],
            ["R2", day + datetime.timedelta(days=1), "BM", 30.2, 3.0, 35, 30, 58, "C4", "good"],
            [None, None, None, 30.0, 2.9, 35, 30, 58, "C5", "good"],
        ],
    )  # fmt: skip
    for cells in ("A1:J1", "A2:C2", "D2:E2", "F2:H2", "I2:J2"):
        sheet.merge_cells(cells)
    for cells in ("A4:A6", "B4:B6", "C4:C6", "A7:A8", "B7:B8", "C7:C8"):
        sheet.merge_cells(cells)
    book.save(path)


def open_document_cell(value: object, across: int = 1, down: int = 1) -> str:
    """Return one cell of an OpenDocument sheet (OASIS ODF 1.3 part 3, table:table-cell)."""
    span = ""
    if across > 1 or down > 1:
        span = f' table:number-columns-spanned="{across}" table:number-rows-spanned="{down}"'
    if value is None:
        return f"<table:table-cell{span}/>"
    if isinstance(value, datetime.datetime):
        stored = f'office:value-type="date" office:date-value="{value.isoformat()}"'
        shown = value.strftime("%d.%m.%y")
    elif isinstance(value, datetime.timedelta):
        seconds = int(value.total_seconds())
        hours, minutes, rest = seconds // 3600, seconds // 60 % 60, seconds % 60
        stored = (
            f'office:value-type="time" office:time-value="PT{hours:02}H{minutes:02}M{rest:02}S"'
        )
        shown = f"{hours:02}:{minutes:02}:{rest:02}"
    elif isinstance(value, (int, float)):
        stored = f'office:value-type="float" office:value="{value}"'
        shown = str(value)
    else:
        stored, shown = 'office:value-type="string"', escape(str(value))
    return f"<table:table-cell {stored}{span}><text:p>{shown}</text:p></table:table-cell>"


def write_open_document(path: Path, tables: Sequence[str]) -> None:
    """Write an ODS file from the XML of its tables."""
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {NAMESPACES} '
        'office:version="1.3"><office:body><office:spreadsheet>'
        + "".join(tables)
        + "</office:spreadsheet></office:body></office:document-content>"
    )
    manifest = (
        '<?xml version="1.0" encoding="UTF-8"?><manifest:manifest '
        'xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">'
        f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{OPEN_DOCUMENT}"/>'
        '<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/>'
        "</manifest:manifest>"
    )
    moment = (2026, 3, 2, 12, 0, 0)
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr(zipfile.ZipInfo("mimetype", moment), OPEN_DOCUMENT)
        archive.writestr(zipfile.ZipInfo("content.xml", moment), content)
        archive.writestr(zipfile.ZipInfo("META-INF/manifest.xml", moment), manifest)


COVERED = "<table:covered-table-cell/>"


def merged_open_document(path: Path) -> None:
    """Write an ODS file with the same habits, a ratio turned to a time, repeated cells."""
    cell = open_document_cell
    rows = [
        [cell("Lauf", 2), COVERED, cell("Plasma", 2), COVERED, cell("Ergebnis", 3), COVERED, COVERED],  # noqa: E501
        [cell("Nr."), cell("Datum"), cell("Zeit (s)"), cell("Leistung (W)"), cell("Verhältnis"),
         cell("Chip"), cell("Ergebnis")],
        [cell("R1", 1, 2), cell(datetime.datetime(2026, 3, 2), 1, 2), cell(40), cell(30.0),
         cell(datetime.timedelta(hours=10, minutes=1)), cell("C1"), cell("gut")],
        [COVERED, COVERED, cell(40), cell("30 W"), cell("10:1"), cell("C2"), cell("undicht")],
        [cell("R2", 1, 2), cell("03.03.2026", 1, 2), cell(35), cell(30.5),
         cell(datetime.timedelta(hours=15, minutes=1)), cell("C3"), cell("gut")],
        [COVERED, COVERED, cell("35,5"), cell(30),
         '<table:table-cell office:value-type="percentage" office:value="0.1">'
         "<text:p>10 %</text:p></table:table-cell>", cell("C4"), cell("gut")],
    ]  # fmt: skip
    body = "".join(f"<table:table-row>{''.join(row)}</table:table-row>" for row in rows)
    filler = (
        '<table:table-row table:number-rows-repeated="1048000"><table:table-cell '
        'table:number-columns-repeated="1024"/></table:table-row>'
    )
    write_open_document(path, [f'<table:table table:name="Log">{body}{filler}</table:table>'])


def hidden_parts(path: Path) -> None:
    """Write a hidden row, a hidden column, a hidden draft sheet, a sheet of lists."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "2026"
    fill(
        sheet,
        [
            ["chip", "run", "old delay", "delay (s)", "cure (°C)", "outcome"],
            ["C1", "R1", 99, 30, 70, "good"],
            ["C2", "R1", 98, 45, 70, "leak"],
            ["C3", "R2", 97, 30, 71, "good"],
        ],
    )
    sheet.row_dimensions[3].hidden = True
    sheet.column_dimensions["C"].hidden = True
    draft = book.create_sheet("draft")
    draft.sheet_state = "hidden"
    fill(
        draft,
        [
            ["chip", "run", "delay (s)", "cure (°C)", "outcome"],
            [None, None, None, None, None],
            [None, None, None, None, None],
            [None, None, None, None, None],
            ["X1", "R9", 500, 20, "leak"],
        ],
    )
    lists = book.create_sheet("lists")
    fill(lists, [["operators"], ["AK"], ["BM"]])
    book.save(path)


def dates_mixed(path: Path) -> None:
    """Real dates, serial numbers without a date format, and text, in one column."""
    book = openpyxl.Workbook()
    sheet = book.active
    fill(
        sheet,
        [
            ["chip", "date", "time", "outcome"],
            ["C1", datetime.datetime(2026, 3, 2), datetime.time(14, 5), "good"],
            ["C2", 46084, "15:30", "good"],
            ["C3", "2026-03-04", 0.5, "good"],
            ["C4", "13/03/2026", datetime.time(9, 0), "leak"],
            ["C5", "5 Mar", None, "leak"],
            ["C6", "46086", None, "good"],
            ["C7", datetime.datetime(2026, 3, 7, 8, 30), None, "good"],
        ],
    )
    book.save(path)


def since_1904(path: Path) -> None:
    """Write a workbook of an old Macintosh: days from 1904 (ECMA-376 part 1, date1904)."""
    book = openpyxl.Workbook()
    book.epoch = CALENDAR_MAC_1904
    fill(
        book.active,
        [
            ["chip", "date", "delay (s)", "outcome"],
            ["C1", datetime.datetime(2026, 3, 2), 30, "good"],
            ["C2", datetime.datetime(2026, 3, 3), 30, "leak"],
            ["C3", 44622, 30, "good"],
        ],
    )
    book.save(path)


def clock_cells(path: Path) -> None:
    """Durations and ratios that a spreadsheet took for clock times and dates."""
    book = openpyxl.Workbook()
    sheet = book.active
    fill(
        sheet,
        [
            ["chip", "ratio", "delay (s)", "cure (h)", "RH %", "outcome"],
            ["C1", datetime.time(10, 1), datetime.time(0, 0, 30), datetime.timedelta(hours=2), 0.45, "good"],  # noqa: E501
            ["C2", datetime.datetime(2026, 1, 10), datetime.time(0, 1, 30), datetime.time(2, 30), 0.5, "good"],  # noqa: E501
            ["C3", datetime.time(15, 1), 45, datetime.timedelta(hours=26), 45, "good"],
            ["C4", 10, "1:30", 2, 0.455, "leak"],
            ["C5", 0.41736111, datetime.time(1, 30), 2, 46, "leak"],
        ],
    )  # fmt: skip
    sheet["C3"].number_format = "mm:ss"
    sheet["B3"].number_format = "d-mmm"
    sheet["D2"].number_format = "[h]:mm"
    sheet["D4"].number_format = "[h]:mm"
    for cell in ("E2", "E3", "E5"):
        sheet[cell].number_format = "0%"
    sheet["B6"].number_format = "General"
    book.save(path)


def errors_and_voids(path: Path) -> None:
    """Error values, formulas never computed, truth values, text numbers, struck-out rows."""
    book = openpyxl.Workbook()
    sheet = book.active
    fill(
        sheet,
        [
            ["chip", "run ", "delay (s)", "cure (°C)", "power\u00a0(W)", "touched", "outcome"],
            ["C1", "R1", "#DIV/0!", "70", "30 ", True, "good"],
            ["C2", "R1", "=15*2", "\u00a071", "30\u00a0W", False, " good "],
            ["C3", "R2", "#REF!", "'70", 30, "WAHR", "leak"],
            ["C4", "R2", 30, 70, 30, 1, "leak"],
            ["C5", "R3", "#N/A", 70, "#VALUE!", "no", "#NAME?"],
        ],
    )
    for cell in sheet[5]:
        cell.font = Font(strike=True)
    book.save(path)


BOOKS: dict[str, Callable[[Path], None]] = {
    "merged_headers.xlsx": merged_headers,
    "merged_open_document.ods": merged_open_document,
    "hidden_parts.xlsx": hidden_parts,
    "dates_mixed.xlsx": dates_mixed,
    "since_1904.xlsx": since_1904,
    "clock_cells.xlsx": clock_cells,
    "errors_and_voids.xlsx": errors_and_voids,
}


if __name__ == "__main__":
    for name, write in BOOKS.items():
        write(Path(__file__).parent / "files" / name)
