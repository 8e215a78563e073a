"""Write the messy files and the table of honest readings from the cases: python make.py."""

from __future__ import annotations

import csv
import datetime
import io
import tomllib
from dataclasses import dataclass
from pathlib import Path

import openpyxl

HERE = Path(__file__).parent


@dataclass(frozen=True)
class Case:
    """One file of the corpus; `above` and `below` are lines around the table, as they stand."""

    name: str
    table: str
    delimiter: str = ","
    encoding: str = "utf-8"
    newline: str = "\n"
    above: str = ""
    below: str = ""
    workbook: bool = False


def cases() -> list[Case]:
    """Return the cases of cases.toml."""
    described = tomllib.loads((HERE / "cases.toml").read_text(encoding="utf-8"))
    return [Case(name, **entries) for name, entries in described.items()]


def parts_of(cell: str) -> tuple[str, str]:
    """Split a cell into the text that stands there and what it honestly means."""
    text, arrow, honest = cell.partition("=>")
    if not arrow:
        return cell.strip(), cell.strip()
    return text.removesuffix(" "), honest.strip()


def rows_of(case: Case) -> tuple[list[tuple[str, str]], list[list[tuple[str, str]]]]:
    """Return the headers with their columns, and the rows of (text, honest) cells."""
    head, *lines = case.table.split("\n")
    headers = []
    for cell in head.split("¦"):
        text, _, column = cell.rpartition(">")
        headers.append((text.strip(), column.strip()))
    rows = []
    for line in lines:
        cells = line.split("¦")
        trimmed = [cell.removeprefix(" ") if n else cell for n, cell in enumerate(cells)]
        rows.append([parts_of(cell) for cell in trimmed])
    return headers, rows


def typed(text: str) -> object:
    """Return the value that a workbook stores for a cell of the case."""
    kind, _, value = text.partition(" ")
    if kind == "@num":
        return float(value)
    if kind == "@bool":
        return value == "1"
    if kind == "@time":
        return datetime.time.fromisoformat(value)
    if kind == "@date":
        return datetime.datetime.fromisoformat(value)
    return text or None


def write_workbook(case: Case, path: Path) -> None:
    """Write a case as XLSX."""
    headers, rows = rows_of(case)
    book = openpyxl.Workbook()
    sheet = book.active
    for line in case.above.split("\n")[:-1]:
        sheet.append([line or None])
    if case.above:
        # An empty line is skipped by append unless a cell is put below it by hand.
        sheet._current_row = case.above.count("\n")
    sheet.append([text for text, _ in headers])
    for row in rows:
        sheet.append([typed(text) for text, _ in row])
    book.save(path)


def write_text(case: Case, path: Path) -> None:
    """Write a case as delimited text."""
    headers, rows = rows_of(case)
    out = io.StringIO()
    writer = csv.writer(out, delimiter=case.delimiter, lineterminator=case.newline)
    writer.writerow([text for text, _ in headers])
    writer.writerows([text for text, _ in row] for row in rows)
    text = case.above.replace("\n", case.newline) + out.getvalue()
    text += case.below.replace("\n", case.newline)
    path.write_bytes(text.encode(case.encoding))


def main() -> None:
    """Write all files, and honest.csv beside them."""
    folder = HERE / "files"
    honest = []
    for case in cases():
        name = case.name + (".xlsx" if case.workbook else ".csv")
        (write_workbook if case.workbook else write_text)(case, folder / name)
        headers, rows = rows_of(case)
        first = case.above.count("\n") + 2
        for number, row in enumerate(rows):
            for (header, column), (text, meant) in zip(headers, row, strict=False):
                if column and not (case.name == "units_below" and number == 0):
                    honest.append(
                        [name, first + number, " ".join(header.split()), column, text, meant]
                    )
    with (HERE / "honest.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(["file", "line", "header", "column", "text", "honest"])
        writer.writerows(honest)


if __name__ == "__main__":
    main()
