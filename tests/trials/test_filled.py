"""Filled sheets as people hand them back: begun, reordered, renamed, with text where numbers go."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from openpyxl import load_workbook

from weakstep.cli import main
from weakstep.process.load import load_process
from weakstep.trials.planned import TrialPlan
from weakstep.trials.sheet import write_trial

Rows = list[dict[str, str]]
Filled = tuple[list[str], Rows, Path]
Hand = Callable[..., str]


@pytest.fixture(scope="module")
def filled(plan: TrialPlan, tmp_path_factory: pytest.TempPathFactory) -> Filled:
    """Return header and rows of a whole sheet, a sixth failed at 35 s and most at 90 s."""
    folder = tmp_path_factory.mktemp("plan") / "trial"
    write_trial(plan, load_process(), folder)
    with (folder / "sheet.csv").open(encoding="utf-8", newline="") as stream:
        reader = csv.DictReader(stream)
        rows = list(reader)
        head = list(reader.fieldnames or [])
    rng = np.random.default_rng(3)
    for row in rows:
        row["outcome"] = (
            "leak" if rng.random() < (0.8 if row["delay_s"] == "90" else 0.1) else "good"
        )
    return head, rows, folder


@pytest.fixture
def hand_in(filled: Filled, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Hand:
    """Return what writes a changed sheet beside its plan, reads it, and returns what is said."""
    head, rows, folder = filled

    def handed(
        change: Callable[[Rows], Rows | None] = lambda rows: None,
        *,
        heads: dict[str, str] | None = None,
        columns: list[str] | None = None,
        code: int = 0,
    ) -> str:
        copy = [dict(row) for row in rows]
        copy = change(copy) or copy
        shutil.copy(folder / "trial.json", tmp_path / "trial.json")
        with (tmp_path / "sheet.csv").open("w", encoding="utf-8", newline="") as stream:
            writer = csv.writer(stream)
            names = columns or head
            writer.writerow([(heads or {}).get(name, name) for name in names])
            writer.writerows([row.get(name, "") for name in names] for row in copy)
        assert main(["trial", "--analyse", str(tmp_path / "sheet.csv")]) == code
        printed = capsys.readouterr()
        return printed.err if code else printed.out

    return handed


def test_order_names_and_blank_rows_do_not_matter(hand_in: Hand, filled: Filled) -> None:
    """Rows shuffled, columns turned and renamed, a column more, blank rows: the same reading."""
    head = filled[0]
    whole = hand_in()
    assert "The trial shows it: bond failures" in whole
    assert "Cells of the sheet to look at" not in whole
    rng = np.random.default_rng(0)

    def shuffled(rows: Rows) -> Rows:
        return [rows[i] for i in rng.permutation(len(rows))]

    def blanks(rows: Rows) -> Rows:
        return [row for pair in rows for row in ({}, pair)]

    assert hand_in(shuffled) == whole
    assert hand_in(blanks) == whole
    assert hand_in(columns=[*reversed(head), "sticker"]) == whole
    heads = {"run_id": "run no", "delay_s": "delay (s)", "outcome": "result", "operator": "who"}
    assert hand_in(heads=heads) == whole


def test_text_in_a_level_is_named_with_its_place(hand_in: Hand) -> None:
    """File, line, column, found, what to do: for "lots" as a level, and an unknown outcome."""

    def lots(rows: Rows) -> None:
        rows[4]["delay_s"] = "lots"
        rows[5]["outcome"] = "lekage"

    said = hand_in(lots)
    assert "The trial shows it" in said
    assert "sheet.csv: line 6: 'delay_s': found 'lots'. Expected a number in s" in said
    assert "sheet.csv: line 7: 'outcome': found 'lekage'" in said


def test_levels_that_nobody_wrote_are_told(hand_in: Hand, filled: Filled) -> None:
    """Without the column, and with a run left blank, the planned level counts and that is said."""
    head, _, _ = filled
    said = hand_in(columns=[name for name in head if name != "delay_s"])
    runs = len({row["run_id"] for row in filled[1]})
    assert f"The delay from glow to contact has no value that can be read in {runs} runs" in said

    def blank(rows: Rows) -> None:
        for row in rows:
            row["delay_s"] = "" if row["run_id"] == "T002" else row["delay_s"]

    assert "has no value that can be read in 1 run, which" in hand_in(blank)


def test_runs_without_plan_and_plans_without_runs(hand_in: Hand) -> None:
    """A run that was renamed is missing from the plan and stands beside it; both are named."""

    def renamed(rows: Rows) -> None:
        for row in rows:
            row["run_id"] = "T3b" if row["run_id"] == "T003" else row["run_id"]

    said = hand_in(renamed)
    assert "1 planned run without an outcome: T003." in said
    assert "Left out, for the plan does not know it: T3b." in said
    assert "The reading that counts" not in said


def test_a_trial_half_done_is_read_with_a_warning(hand_in: Hand) -> None:
    """Half the rows filled in: read, and told that stopping when it looks well is no test."""

    def half(rows: Rows) -> None:
        for row in rows[len(rows) // 2 :]:
            row["outcome"] = ""

    said = hand_in(half)
    assert "planned runs without an outcome: T0" in said
    assert "The reading that counts is that of the whole trial" in said


def test_too_little_is_one_sentence(hand_in: Hand) -> None:
    """Nothing filled in, one run at a level, or run ids of another sheet."""

    def none(rows: Rows) -> None:
        for row in rows:
            row["outcome"] = ""

    def one(rows: Rows) -> None:
        level = next(row["delay_s"] for row in rows if row["run_id"] != "T001")
        first = {row["delay_s"]: row["run_id"] for row in reversed(rows)}
        for row in rows:
            if row["delay_s"] == level and row["run_id"] != first[level]:
                row["outcome"] = ""

    def strange(rows: Rows) -> None:
        for row in rows:
            row["run_id"] = f"Q{row['run_id']}"

    said = hand_in(none, code=2)
    assert "No run with the delay from glow to contact at 35 s has an outcome yet" in said
    assert "Only 1 run with the delay from glow to contact at " in hand_in(one, code=2)
    assert "No row is of a run of the plan (T001 to T" in hand_in(strange, code=2)


def test_what_makes_a_sheet_unreadable_is_listed_beside(hand_in: Hand) -> None:
    """All outcomes misspelt: the sentence, and the cells."""

    def misspelt(rows: Rows) -> None:
        for row in rows:
            row["outcome"] = "qqq"

    said = hand_in(misspelt, code=2)
    assert "'outcome': found 'qqq'" in said
    assert said.splitlines()[-1].startswith("weakstep: No run with")


def test_other_failures_are_not_lost_in_silence(hand_in: Hand) -> None:
    """A trial of bond failures says how many chips failed otherwise and count as not failed."""

    def otherwise(rows: Rows) -> None:
        rows[0]["outcome"], rows[1]["outcome"], rows[2]["outcome"] = "failed", "tear", "tear"

    said = hand_in(otherwise)
    assert (
        "Counted as not failed, for the trial asks for bond failures only: port failures (2), "
        "failures of no stated kind (1)."
    ) in said


@pytest.mark.parametrize("outcome", ["good", "leak"])
def test_nothing_or_everything_failed(hand_in: Hand, outcome: str) -> None:
    """No failure at all, or nothing else: no effect is shown, with its interval."""

    def alike(rows: Rows) -> None:
        for row in rows:
            row["outcome"] = outcome

    said = hand_in(alike)
    share = "0 %" if outcome == "good" else "100 %"
    assert (
        f"does not show an effect of the delay from glow to contact: bond failures {share}" in said
    )
    assert "(chance of luck 100.0 %)" in said
    assert "a smaller effect is not ruled out" in said


def test_a_workbook_with_text_in_a_level(
    filled: Filled, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The same sentence for a cell of the XLSX sheet."""
    head, rows, folder = filled
    for name in ("sheet.xlsx", "trial.json"):
        shutil.copy(folder / name, tmp_path / name)
    book = load_workbook(tmp_path / "sheet.xlsx")
    sheet = book["Trial"]
    for line, row in enumerate(rows, 2):
        sheet.cell(line, head.index("outcome") + 1, row["outcome"])
    sheet.cell(3, head.index("delay_s") + 1, "lots")
    book.save(tmp_path / "sheet.xlsx")
    assert main(["trial", "--analyse", str(tmp_path / "sheet.xlsx")]) == 0
    said = capsys.readouterr().out
    assert "The trial shows it" in said
    assert "sheet.xlsx [Trial]: line 3: 'delay_s': found 'lots'" in said


def test_a_plan_of_another_process_is_refused(
    filled: Filled, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A column that the description does not know: which description to name."""
    _, _, folder = filled
    shutil.copy(folder / "sheet.csv", tmp_path / "sheet.csv")
    plan = (folder / "trial.json").read_text(encoding="utf-8").replace('"delay_s"', '"glow"')
    (tmp_path / "trial.json").write_text(plan, encoding="utf-8")
    assert main(["trial", "--analyse", str(tmp_path / "sheet.csv")]) == 2
    said = capsys.readouterr().err
    assert "no column 'glow', which the plan varies: read the sheet with the description" in said


def test_chips_that_failed_before_they_were_measured_are_told(
    plan: TrialPlan, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A trial of burst pressure in which some chips leaked and have no pressure."""
    folder = tmp_path / "trial"
    measured = replace(plan, outcome="burst_kpa", rates=None, difference=20.0)
    write_trial(measured, load_process(), folder)
    with (folder / "sheet.csv").open(encoding="utf-8", newline="") as stream:
        reader = csv.DictReader(stream)
        rows, head = list(reader), list(reader.fieldnames or [])
    rng = np.random.default_rng(5)
    for place, row in enumerate(rows):
        leaks = place % 9 == 0
        row["outcome"] = "leak" if leaks else "good"
        row["burst_kpa"] = "" if leaks else f"{rng.normal(200.0, 10.0):.0f}"
    rows[1]["burst_kpa"] = ""
    with (folder / "sheet.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, head)
        writer.writeheader()
        writer.writerows(rows)
    assert main(["trial", "--analyse", str(folder / "sheet.csv")]) == 0
    said = capsys.readouterr().out
    leaked = len(range(0, len(rows), 9))
    assert f"{leaked + 1} chips of these runs have no burst pressure, and {leaked} of them" in said
