"""CSV as others define it: the csv-spectrum files (BSD-2-Clause) and RFC 4180, section 2."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from weakstep.process.load import load_process
from weakstep.runlog.files import decoded
from weakstep.runlog.read import read_log
from weakstep.runlog.splitting import read_table

SPECTRUM = Path(__file__).parent / "csv_spectrum"
CASES = sorted(path.stem for path in (SPECTRUM / "csvs").glob("*.csv"))
# The package's JSON of this one file states another number than its CSV.
AMENDED = {"location_coordinates": {"Contact Phone Number": "2095257564"}}
DESCRIPTION = """
name = "any_table"
title = "Any table"
item = "row"
items = "rows"
[steps.only]
label = "Only step"
[parameters.outcome]
label = "outcome"
role = "outcome"
kind = "category"
[families.all]
label = "failures"
[modes.good]
label = "good"
verdict = "good"
[modes.failed]
label = "failed"
verdict = "failed"
family = "all"
[modes.not_tested]
label = "not tested"
verdict = "untested"
"""


def expected_rows(case: str) -> list[dict[str, str]]:
    """Return the rows that the package states; one file states its single row without a list."""
    rows = json.loads((SPECTRUM / "json" / f"{case}.json").read_text(encoding="utf-8"))
    listed = rows if isinstance(rows, list) else [rows]
    return [row | AMENDED.get(case, {}) for row in listed]


def cells_of(raw: bytes) -> list[tuple[str, ...]]:
    """Return the cells of all rows exactly as they were split."""
    table = read_table(decoded(raw, "log.csv"))
    return [table.row(index).cells for index in range(len(table))]


@pytest.mark.parametrize("case", CASES)
def test_spectrum_cells_are_split_exactly(case: str) -> None:
    """Cell by cell what the JSON beside each file says, newlines within cells included."""
    expected = expected_rows(case)
    header, *rows = cells_of((SPECTRUM / "csvs" / f"{case}.csv").read_bytes())
    found = [dict(zip(header, row, strict=True)) for row in rows]
    same_ends = json.loads(json.dumps(found).replace("\\r\\n", "\\n"))
    assert same_ends == json.loads(json.dumps(expected).replace("\\r\\n", "\\n"))


@pytest.mark.parametrize("case", CASES)
def test_spectrum_files_are_logs_through_a_small_description(case: str, tmp_path: Path) -> None:
    """Every header described as a text column: the log holds the same texts, spaces tidied."""
    expected = expected_rows(case)
    names = {header: f"text_{index}" for index, header in enumerate(expected[0])}
    described = DESCRIPTION + "".join(
        f'[parameters.{name}]\nlabel = "{name}"\nrole = "identity"\nkind = "text"\n'
        f"aliases = [{json.dumps(header)}]\n"
        for header, name in names.items()
    )
    (tmp_path / "process.toml").write_text(described, encoding="utf-8")
    log = read_log(SPECTRUM / "csvs" / f"{case}.csv", load_process(tmp_path / "process.toml"))
    for header, name in names.items():
        tidy = [" ".join(str(row[header]).split()) for row in expected]
        assert log.chips[name].tolist() == tidy


@pytest.mark.parametrize(
    ("raw", "expected"),
    [
        (b"aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", [("aaa", "bbb", "ccc"), ("zzz", "yyy", "xxx")]),
        (b"aaa,bbb,ccc\r\nzzz,yyy,xxx", [("aaa", "bbb", "ccc"), ("zzz", "yyy", "xxx")]),
        (b"aaa, bbb ,ccc\r\n", [("aaa", " bbb ", "ccc")]),
        (b'"aaa","bbb","ccc"\r\nzzz,yyy,xxx', [("aaa", "bbb", "ccc"), ("zzz", "yyy", "xxx")]),
        (
            b'"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx',
            [("aaa", "b\r\nbb", "ccc"), ("zzz", "yyy", "xxx")],
        ),
        (b'"aaa","b""bb","c,cc"\r\n', [("aaa", 'b"bb', "c,cc")]),
    ],
)
def test_rfc_4180_section_2(raw: bytes, expected: list[tuple[str, ...]]) -> None:
    """Rules 1 to 7 of RFC 4180, section 2, with its own examples (from memory)."""
    assert cells_of(raw) == expected
