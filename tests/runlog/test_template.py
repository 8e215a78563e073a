"""Empty logs: what is filled in where it asks comes through a check without a problem."""

from __future__ import annotations

import csv
import datetime
import html.parser
import io
from collections.abc import Iterator
from pathlib import Path

import openpyxl
import pytest
from openpyxl.worksheet.datavalidation import DataValidation

from weakstep.errors import LogError, OutputError
from weakstep.process.load import load_process
from weakstep.process.model import Process
from weakstep.runlog.columns import HeaderBook
from weakstep.runlog.read import read_log
from weakstep.runlog.template import Field, fields, write_sheet

ORINGS = Path(__file__).parents[2] / "datasets" / "orings" / "process.toml"


def sensible(field: Field, row: int) -> object:
    """Return a value that a careful person would write."""
    parameter = field.parameter
    if parameter.name == "agent_g":
        return 2.0 + row / 100
    if parameter.name == "poured_g":
        return 15.0
    if parameter.name == "base_g":
        return 20.0 + row / 10
    if parameter.name == "weighed_to_g":
        return 0.01
    if parameter.name == "mould_softening_c":
        return 1000
    if field.choices:
        return field.choices[row % len(field.choices)]
    if parameter.kind == "time":
        return datetime.datetime(2026, 3, 2 + row, 14, 5)
    if parameter.kind == "number":
        lower, upper = parameter.lower or 0.0, parameter.upper or 100.0
        return round(lower + (upper - lower) * (0.3 + row / 50), 3)
    return f"{parameter.name}-{row}" if parameter.kind == "text" else "AK"


@pytest.fixture(params=["built in", "orings"])
def described(request: pytest.FixtureRequest) -> Process:
    """Return the built-in description and another one."""
    return load_process() if request.param == "built in" else load_process(ORINGS)


def test_every_header_reads_back_and_names_its_unit(described: Process) -> None:
    """In the name itself or behind it."""
    book = HeaderBook(described)
    for field in fields(described):
        match = book.match(field.header)
        assert match.parameter == field.parameter
        assert match.unit == field.parameter.unit


@pytest.mark.parametrize("suffix", [".csv", ".xlsx"])
def test_a_filled_sheet_passes_the_check(described: Process, suffix: str, tmp_path: Path) -> None:
    """Nothing but notes, and no cell read with care."""
    path = write_sheet(described, tmp_path / f"log{suffix}")
    with pytest.raises(LogError, match="has a header but no rows"):
        read_log(path, described)
    columns = fields(described)
    rows = [[sensible(field, row) for field in columns] for row in range(6)]
    if suffix == ".xlsx":
        book = openpyxl.load_workbook(path)
        for row, cells in enumerate(rows, start=2):
            for column, value in enumerate(cells, start=1):
                book["Log"].cell(row=row, column=column, value=value)
        book.save(path)
    else:
        out = io.StringIO()
        csv.writer(out).writerows(rows)
        path.write_text(path.read_text(encoding="utf-8") + out.getvalue(), encoding="utf-8")
    log = read_log(path, described)
    assert [str(problem) for problem in log.problems if problem.severity != "note"] == []
    assert log.care == ()
    assert len(log.chips) == 6
    for index, field in enumerate(columns):
        if field.parameter.kind == "number":
            written = [row[index] for row in rows]
            assert log.chips[field.parameter.name].tolist() == pytest.approx(written)


def validations(path: Path) -> Iterator[tuple[str, DataValidation]]:
    """Return the rule of every column of the log, by its header."""
    sheet = openpyxl.load_workbook(path)["Log"]
    for rule in sheet.data_validations.dataValidation:
        yield str(sheet.cell(row=1, column=next(iter(rule.sqref.ranges)).min_col).value), rule


def test_the_workbook_refuses_nonsense(process: Process, tmp_path: Path) -> None:
    """Lists for words, ranges for numbers, dates as dates; the header stays in sight."""
    path = write_sheet(process, tmp_path / "log.xlsx")
    book = openpyxl.load_workbook(path)
    assert book.sheetnames == ["Log", "Instructions", "Lists"]
    assert book["Log"].freeze_panes == "B2"
    rules = dict(validations(path))
    assert (rules["cure_c"].type, rules["cure_c"].formula1, rules["cure_c"].formula2) == (
        "decimal",
        "15",
        "200",
    )
    assert rules["started_at"].type == "date"
    assert rules["outcome"].type == rules["touched"].type == "list"
    last = rules["outcome"].formula1.rpartition("$")[2]
    words = [book["Lists"].cell(row=row, column=2 + 1).value for row in range(1, int(last) + 1)]
    assert words == [mode.name for mode in process.modes]


class Counts(html.parser.HTMLParser):
    """Counts the tags of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: dict[str, int] = {}

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Count one tag."""
        self.tags[tag] = self.tags.get(tag, 0) + 1


def test_the_bench_page(described: Process, tmp_path: Path) -> None:
    """A box per run and column of the log; no script, nothing from a network; text escaped."""
    page = write_sheet(described, tmp_path / "page.html").read_text(encoding="utf-8")
    counts = Counts()
    counts.feed(page)
    assert counts.tags["td"] == 4 * len(fields(described))
    assert "script" not in counts.tags
    assert "http" not in page
    assert "Log every chip, above all those that failed" in page


def test_another_suffix_is_refused(process: Process, tmp_path: Path) -> None:
    """One sentence that names the choices."""
    with pytest.raises(OutputError, match=r"written as \.csv, \.xlsx, \.html"):
        write_sheet(process, tmp_path / "log.pdf")
