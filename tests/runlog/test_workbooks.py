"""XLSX and ODS: what a spreadsheet does to a log is undone or told."""

from __future__ import annotations

import datetime
import io
import zipfile
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

from weakstep.errors import LogError
from weakstep.process.model import Process
from weakstep.runlog.model import RunLog
from weakstep.runlog.read import read_log

ODS_CONTENT = """<?xml version="1.0" encoding="UTF-8"?>
<office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"
 xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"
 xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" office:version="1.2">
<office:body><office:spreadsheet><table:table table:name="Log">{rows}</table:table>
</office:spreadsheet></office:body></office:document-content>"""


ODS_MANIFEST = """<?xml version="1.0" encoding="UTF-8"?>
<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">
<manifest:file-entry manifest:full-path="/"
 manifest:media-type="application/vnd.oasis.opendocument.spreadsheet"/>
<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/>
</manifest:manifest>"""


def as_ods(rows: str) -> bytes:
    """Pack rows of table cells as the smallest OpenDocument spreadsheet."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("META-INF/manifest.xml", ODS_MANIFEST)
        archive.writestr("content.xml", ODS_CONTENT.format(rows=rows))
    return buffer.getvalue()


def ods_cell(text: str, repeated: int = 1) -> str:
    """Return one text cell, several times when *repeated*."""
    times = f' table:number-columns-repeated="{repeated}"' if repeated > 1 else ""
    return (
        f'<table:table-cell office:value-type="string"{times}><text:p>{text}</text:p>'
        "</table:table-cell>"
    )


def test_dates_clock_ratios_merged_and_hidden_cells(tmp_path: Path, process: Process) -> None:
    """Typed cells come in as typed by hand; merged ones are filled and told, hidden ones told."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["run", "date", "ratio", "delay (min)", "touched", "outcome"])
    moment = datetime.datetime(2026, 3, 2, 14, 5)
    sheet.append(["R1", moment, datetime.time(10, 1), datetime.time(0, 1, 30), True, "ok"])
    sheet.append([None, datetime.datetime(2026, 3, 3), 0.41736, "0.5", False, "leak"])
    sheet.append(["R2", 46085, "10:1", 2, "no", "ok"])
    sheet.merge_cells("A2:A3")
    sheet.row_dimensions[4].hidden = True
    book.create_sheet("Lists").append(["good", "leak"])
    book.save(tmp_path / "log.xlsx")
    log = read_log(tmp_path / "log.xlsx", process)
    assert log.chips["run"].tolist() == ["R1", "R1", "R2"]
    assert log.chips["ratio"].tolist() == [10.0, 10.0, 10.0]
    assert log.chips["delay_s"].tolist() == [90.0, 30.0, 120.0]
    assert log.chips["touched"].tolist() == [1.0, 0.0, 0.0]
    assert [str(t)[:16] for t in log.chips["started_at"]] == [
        "2026-03-02 14:05",
        "2026-03-03 00:00",
        "2026-03-04 00:00",
    ]
    care = {(c.line, c.column): c.taken_as for c in log.care}
    assert care[3, "run"] == "R1"
    assert care[2, "ratio"] == care[3, "ratio"] == "10"
    assert care[4, "date"] == "2026-03-04 00:00"
    assert {"hidden_rows", "sheet_left_out"} <= {p.code for p in log.problems}


def test_several_sheets_are_one_log(tmp_path: Path, process: Process) -> None:
    """Each sheet has its own columns; its name stands beside the file's."""
    book = openpyxl.Workbook()
    first = book.active
    assert first is not None
    first.title = "March"
    first.append(["chip", "cure (C)", "outcome"])
    first.append(["C1", 70, "ok"])
    second = book.create_sheet("April")
    second.append(["outcome", "chip", "oven (°F)"])
    second.append(["leak", "C2", 158])
    second.append(["ok", "C1", 158])
    book.save(tmp_path / "log.xlsx")
    log = read_log(tmp_path / "log.xlsx", process)
    assert log.chips["cure_c"].tolist() == [70.0, 70.0]
    assert log.chips["file"].tolist() == ["log.xlsx [March]", "log.xlsx [April]"]
    assert log.set_aside["line"].tolist() == [3], "the same row in another sheet is one row"


def test_an_ods_sheet(tmp_path: Path, process: Process) -> None:
    """OpenDocument is read by the same road."""
    rows = "".join(
        f"<table:table-row>{''.join(ods_cell(cell) for cell in row)}</table:table-row>"
        for row in (["chip", "delay_s", "outcome"], ["C1", "30", "ok"])
    )
    (tmp_path / "log.ods").write_bytes(as_ods(rows))
    log = read_log(tmp_path / "log.ods", process)
    assert (log.chips["delay_s"].tolist(), log.chips["mode"].tolist()) == ([30.0], ["good"])


def far_cell(tmp_path: Path) -> bytes:
    """Return an XLSX with one cell in the last row and column."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet["A1"] = "chip"
    sheet["XFD1048576"] = "x"
    book.save(tmp_path / "far.xlsx")
    return (tmp_path / "far.xlsx").read_bytes()


def repeated_cells(_: Path) -> bytes:
    """Return an ODS whose one cell says that it is there 16 million times."""
    row = f'<table:table-row table:number-rows-repeated="1000">{ods_cell("x", 16000)}'
    return as_ods(row + "</table:table-row>")


def endless_cells(_: Path) -> bytes:
    """Return an ODS whose one cell is there more often than the digits of a number allow."""
    cell = ods_cell("x", 2).replace('"2"', f'"{"9" * 5000}"')
    return as_ods(f"<table:table-row>{cell}</table:table-row>")


def packed_zeros(_: Path) -> bytes:
    """Return an archive of 300 kB that unpacks to 300 MB."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", b" " * 300_000_000)
    return buffer.getvalue()


@pytest.mark.parametrize(
    ("build", "said"),
    [
        (far_cell, "has a sheet of 17179869184 cells"),
        (repeated_cells, "has a sheet of 16000000 cells"),
        (endless_cells, "has a sheet of 999999999999 cells"),
        (packed_zeros, "unpacks to 286 MB"),
    ],
)
def test_bombs_are_refused_with_a_sentence(
    build: Callable[[Path], bytes], said: str, tmp_path: Path, process: Process
) -> None:
    """Nothing is unpacked to find out that it is too much."""
    (tmp_path / "log.xlsx").write_bytes(build(tmp_path))
    with pytest.raises(LogError, match=f"log.xlsx: the workbook {said}"):
        read_log(tmp_path / "log.xlsx", process)


@pytest.mark.parametrize("cut", [30, 400, 2000, 4000])
def test_damaged_workbooks_give_one_sentence(
    cut: int, tmp_path: Path, read_text: Callable[..., RunLog]
) -> None:
    """Cut off anywhere, there is no traceback."""
    whole = far_cell(tmp_path)
    with pytest.raises(LogError, match=r"log\.xlsx: the workbook (is damaged|cannot be read)"):
        read_text(whole[:cut], "log.xlsx")
