"""Sheets of a trial: they read back, are never overwritten, and print."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import pytest
from openpyxl import load_workbook

from weakstep.errors import LogError, OutputError
from weakstep.process.load import load_process
from weakstep.runlog.read import read_log
from weakstep.trials.planned import TrialPlan
from weakstep.trials.sheet import printable, sheet_rows, write_trial


@pytest.mark.parametrize("name", ["sheet.csv", "sheet.xlsx"])
def test_the_sheet_reads_back(plan: TrialPlan, tmp_path: Path, name: str) -> None:
    """Filled in, the sheet is a log without a problem whose values are those planned."""
    folder = tmp_path / "trial"
    process = load_process()
    write_trial(plan, process, folder)
    sheet = folder / name
    if name.endswith("xlsx"):
        book = load_workbook(sheet)
        rows = book.active
        place = [cell.value for cell in rows[1]].index("outcome") + 1
        for row in range(2, rows.max_row + 1):
            rows.cell(row, place, "good")
        book.save(sheet)
    else:
        with sheet.open(encoding="utf-8", newline="") as stream:
            head, *body = csv.reader(stream)
        place = head.index("outcome")
        for row in body:
            row[place] = "good"
        with sheet.open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerows([head, *body])
    log = read_log(sheet, process)
    assert [one for one in log.problems if one.severity != "note"] == []
    assert log.runs.run_id.tolist() == [run.run_id for run in plan.runs]
    planned = [run.settings[0] for run in plan.runs]
    assert log.runs.numbers["delay_s"].tolist() == planned
    assert (log.runs.tested == plan.chips).all()


def test_a_filled_sheet_is_never_overwritten(plan: TrialPlan, tmp_path: Path) -> None:
    """A folder that holds anything is left alone."""
    process = load_process()
    write_trial(plan, process, tmp_path / "trial")
    with pytest.raises(OutputError, match="never overwritten"):
        write_trial(plan, process, tmp_path / "trial")


def test_the_page_to_print_has_every_run(plan: TrialPlan, tmp_path: Path) -> None:
    """One row per run under a header that repeats, cautions first, no script."""
    write_trial(plan, load_process(), tmp_path / "trial")
    page = (tmp_path / "trial" / "sheet.html").read_text(encoding="utf-8")
    assert page.count("<tr>") + page.count("<tr class=block>") == len(plan.runs) + 1
    assert page.count("<tr class=block>") == plan.blocks - 1
    assert page.index("do not stare") < page.index("<thead>") < page.index("T001")
    assert "<script" not in page
    assert "do not stare at the glow" in page


def test_the_workbook_offers_the_outcomes(plan: TrialPlan, tmp_path: Path) -> None:
    """Outcome cells of every row have a list with the words of the process."""
    process = load_process()
    write_trial(plan, process, tmp_path / "trial")
    book = load_workbook(tmp_path / "trial" / "sheet.xlsx")
    (offered,) = book["Trial"].data_validations.dataValidation
    letter = "ABCDEFGH"[[cell.value for cell in book["Trial"][1]].index("outcome")]
    rows = len(plan.runs) * plan.chips
    assert str(offered.sqref) == f"{letter}2:{letter}{rows + 1}"
    words = [row[0].value for row in book["Lists"].iter_rows()]
    assert words == [mode.name for mode in process.modes]
    assert book["Lists"].sheet_state == "hidden"


def test_a_measured_outcome_has_its_place_on_the_page(plan: TrialPlan) -> None:
    """Each box says what is written in it; a trial of failures asks for the outcome alone."""
    process = load_process()
    assert ">chip 1: outcome<" in printable(plan, process)
    measured = replace(plan, outcome="burst_kpa", rates=None, difference=20.0)
    assert ">chip 1: outcome, burst pressure (kPa)<" in printable(measured, process)
    head = sheet_rows(measured, process)[0]
    assert head.index("burst_kpa") + 1 == head.index("outcome")


def test_a_process_without_runs_has_no_sheet(plan: TrialPlan, tmp_path: Path) -> None:
    """A filled sheet could not be matched to its plan; nothing is written."""
    process = load_process(Path(__file__).parents[2] / "datasets" / "orings" / "process.toml")
    with pytest.raises(LogError, match=r"no column run_id, .* Add to it: \[parameters.run_id\]"):
        write_trial(replace(plan, columns=("leak_check_psi",)), process, tmp_path / "trial")
    assert not (tmp_path / "trial").exists()
