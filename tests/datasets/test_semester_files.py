"""The demo semester's files are what its script makes, and look as its README says."""

from __future__ import annotations

import csv
from pathlib import Path

FILES = ("bench.csv", "group_b.csv", "newcomer.csv", "plasma_room.csv")


def test_the_script_makes_the_same_bytes_again(semester: Path, remade: Path) -> None:
    """The four logs are reproduced byte for byte from their seed."""
    assert sorted(path.name for path in (semester / "logs").iterdir()) == list(FILES)
    for file in FILES:
        assert (remade / "logs" / file).read_bytes() == (semester / "logs" / file).read_bytes()


def test_truth_holds_the_messy_cells_of_the_remade_semester(
    semester: Path, every_cell: list[dict[str, str]]
) -> None:
    """truth.csv is every cell's honest reading, less the plain and the blank cells."""
    messy = [cell for cell in every_cell if cell["kind"] not in ("plain", "blank")]
    with (semester / "truth.csv").open(encoding="utf-8", newline="") as stream:
        assert list(csv.DictReader(stream)) == messy


def test_truth_quotes_the_files(semester: Path, every_cell: list[dict[str, str]]) -> None:
    """Each cell's line, column and text are where truth.csv says."""
    delimiters = {
        "bench.csv": ",",
        "group_b.csv": "\t",
        "newcomer.csv": ",",
        "plasma_room.csv": ";",
    }
    for file in FILES:
        with (semester / "logs" / file).open(encoding="utf-8-sig", newline="") as stream:
            rows = list(csv.DictReader(stream, delimiter=delimiters[file]))
        for cell in every_cell:
            if cell["file"] == file and cell["column"]:
                assert rows[int(cell["line"]) - 2][cell["column"]] == cell["text"]


def test_size_of_the_semester(every_cell: list[dict[str, str]]) -> None:
    """Six operators, 110 to 120 runs of two or three chips, about 300 chips, 15 weeks."""

    def distinct(parameter: str) -> set[str]:
        return {cell["honest"] for cell in every_cell if cell["parameter"] == parameter}

    days = sorted(distinct("started_at"))
    assert len(distinct("operator")) == 6
    assert 110 <= len(distinct("run_id")) <= 120
    assert 280 <= len(distinct("chip_id")) <= 320
    assert days[0] >= "2026-03-02"
    assert days[-1] < "2026-06-13"
    failed = distinct("outcome") - {"good", "ask", "unknown", "not_tested"}
    outcomes = [cell["honest"] for cell in every_cell if cell["parameter"] == "outcome"]
    assert 0.12 < sum(mode in failed for mode in outcomes) / len(outcomes) < 0.20
