"""Plans of trials: levels inside the log, orders by lot, sheets that read back, words."""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from openpyxl import load_workbook

from weakstep.errors import LogError, NotEnoughError, OutputError
from weakstep.failures.model import Window
from weakstep.process.load import load_process
from weakstep.process.model import RatedLimit
from weakstep.runlog.model import RunLog
from weakstep.runlog.read import read_log
from weakstep.trials.levels import choose_levels
from weakstep.trials.plan import Question, plan_trial, power_table
from weakstep.trials.plan_words import plan_text
from weakstep.trials.planned import TrialPlan, plan_json, read_plan
from weakstep.trials.sheet import write_trial

Build = Callable[..., RunLog]
SEMESTER = Path(__file__).parents[2] / "datasets" / "semester" / "logs"


@pytest.fixture(scope="module")
def semester() -> RunLog:
    """Return the demo semester."""
    return read_log(SEMESTER)


@pytest.fixture(scope="module")
def plan(semester: RunLog) -> TrialPlan:
    """Return a trial of the delay at two levels."""
    levels = choose_levels(semester, "delay_s", asked=(35.0, 90.0))
    return plan_trial(semester, (levels,), Question("bond", (0.5, 0.1)), seed=4)


def bench(log_of: Build, limit: float | None = None) -> RunLog:
    """Forty runs at 1 to 40 of one parameter, a tenth of the chips failed."""
    rated = (RatedLimit("heat", "it softens", "", upper=limit),) if limit else ()
    failed = np.tile([1, 0, 0, 0, 0], 8)
    return log_of(
        {"heat": np.arange(1.0, 41.0)}, {"bond": failed}, np.full(40, 2), rated_limits=rated
    )


def test_levels_stay_inside_the_log(log_of: Build) -> None:
    """Unasked: the 10 and 90 % quantiles; asked beyond the log: refused."""
    log = bench(log_of)
    assert choose_levels(log, "heat").values == pytest.approx((4.9, 36.1))
    assert choose_levels(log, "heat", count=3).values == pytest.approx((4.9, 20.5, 36.1))
    assert choose_levels(log, "heat", asked=(1.0, 40.0)).values == (1.0, 40.0)
    with pytest.raises(LogError, match="outside what the log has seen"):
        choose_levels(log, "heat", asked=(1.0, 40.5))


def test_levels_never_pass_a_rated_limit(log_of: Build) -> None:
    """What the log saw beyond the limit is no excuse."""
    log = bench(log_of, limit=30.0)
    found = choose_levels(log, "heat")
    assert found.highest == 30.0
    assert max(found.values) <= 30.0
    with pytest.raises(LogError, match="within rated limits"):
        choose_levels(log, "heat", asked=(5.0, 31.0))


def test_levels_follow_the_window(log_of: Build) -> None:
    """Median inside the window against the median outside it."""
    found = choose_levels(bench(log_of), "heat", window=Window(None, 20.0, ""))
    assert found.values == (10.5, 30.5)


@pytest.mark.parametrize(
    ("column", "said"),
    [
        ("colour", "no numbers for 'colour'"),
        ("rh_pct", "cannot be set for a run"),
        ("oil_hours", "cannot be set for a run"),
        ("equivalent_cure", "computed from others"),
    ],
)
def test_what_cannot_be_set_is_refused(semester: RunLog, column: str, said: str) -> None:
    """Ambient, counters, computed and unknown columns: one sentence each."""
    with pytest.raises(LogError, match=said):
        choose_levels(semester, column)


def test_levels_asked_are_two_or_three(log_of: Build) -> None:
    """One level compares nothing, four are not planned."""
    with pytest.raises(LogError, match="expected 2 or 3"):
        choose_levels(bench(log_of), "heat", asked=(5.0,))


def test_blocks_hold_every_level_equally_often(plan: TrialPlan) -> None:
    """Two and two a day, in an order drawn by lot that the seed repeats."""
    for block in range(1, plan.blocks + 1):
        coded = sorted(run.coded[0] for run in plan.runs if run.block == block)
        assert coded == [-1.0, -1.0, 1.0, 1.0]
    orders = {
        tuple(run.coded[0] for run in plan.runs if run.block == block)
        for block in range(1, plan.blocks + 1)
    }
    assert len(orders) > 1, "each block has an order of its own"
    assert plan.power >= 0.8


def test_seed_repeats_the_order(semester: RunLog, plan: TrialPlan) -> None:
    """The same seed gives the same plan, another seed another order."""
    levels = (choose_levels(semester, "delay_s", asked=(35.0, 90.0)),)
    question = Question("bond", (0.5, 0.1))
    assert plan_trial(semester, levels, question, seed=4) == plan
    assert plan_trial(semester, levels, question, seed=5).runs != plan.runs


def test_cautions_go_with_the_parameter(plan: TrialPlan) -> None:
    """The delay carries the plasma cleaner's and the slides' cautions; the standing one always."""
    text = " ".join(plan.cautions)
    for caution in ("standing", "plasma", "glass"):
        assert load_process().caution(caution).text in text


def test_the_plan_survives_its_file(plan: TrialPlan, tmp_path: Path) -> None:
    """Written and read back, it is the same."""
    (tmp_path / "trial.json").write_text(plan_json(plan), encoding="utf-8")
    assert read_plan(tmp_path / "trial.json") == plan


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", '{"schema": "weakstep.trial/1"}', '{"schema": 1}']
)
def test_a_broken_plan_is_one_sentence(text: str, tmp_path: Path) -> None:
    """No traceback for a file that is no plan."""
    (tmp_path / "trial.json").write_text(text, encoding="utf-8")
    with pytest.raises(LogError, match="no plan that 'weakstep trial' wrote"):
        read_plan(tmp_path / "trial.json")
    with pytest.raises(LogError, match="cannot be read"):
        read_plan(tmp_path / "none.json")


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
    """One row per run, cautions below, no script."""
    write_trial(plan, load_process(), tmp_path / "trial")
    page = (tmp_path / "trial" / "sheet.html").read_text(encoding="utf-8")
    assert page.count("<tr>") == len(plan.runs) + 1
    assert "<script" not in page
    assert "do not stare at the glow" in page


def test_words_say_how_it_will_be_read(plan: TrialPlan) -> None:
    """The analysis stands before the data: test, interval, power, table."""
    text = plan_text(plan, load_process(), power_table(plan))
    assert "Written before the data" in text
    assert "delay from glow to contact: 35 s, 90 s" in text
    assert "dealt again by lot within blocks" in text
    assert "| 50 % | 25 % |" in text


def test_several_parameters_are_crossed(semester: RunLog) -> None:
    """Four at two levels in eight combinations: resolution IV, aliases named."""
    names = ("delay_s", "plasma_s", "dry_min", "bake_min")
    levels = tuple(choose_levels(semester, name) for name in names)
    plan = plan_trial(
        semester, levels, Question("bond", (0.6, 0.1)), most_combinations=8, centre_runs=1
    )
    assert plan.resolution == "IV"
    assert plan.generators == "4=123"
    assert plan.centre_runs == plan.blocks
    assert len({run.coded for run in plan.runs}) == 9
    text = plan_text(plan, semester.process, ())
    assert "delay from glow to contact with plasma exposure = drying time with bake time" in text
    with pytest.raises(LogError, match="at most 4 combinations"):
        plan_trial(semester, levels, Question("bond"), most_combinations=4)


def test_a_measured_outcome_is_sized_by_its_spread(log_of: Build) -> None:
    """One standard deviation between runs: 17 runs at each level (t test), in blocks of 2."""
    rng = np.random.default_rng(1)
    log = log_of(
        {"heat": np.arange(1.0, 41.0), "burst": rng.normal(200, 10, 40)},
        {"bond": np.tile([1, 0, 0, 0], 10)},
        np.full(40, 2),
    )
    plan = plan_trial(log, (choose_levels(log, "heat"),), Question("burst"))
    assert plan.rates is None
    assert len(plan.runs) == 36
    assert 0.8 <= plan.power < 0.85
    assert "t test of run means" in plan_text(plan, log.process, ())


def test_questions_that_cannot_be_planned(log_of: Build) -> None:
    """Nothing failed, too small an effect, unknown outcome: a sentence each."""
    log = bench(log_of)
    levels = (choose_levels(log, "heat"),)
    none = replace(log, runs=replace(log.runs, failed={"bond": np.zeros(40, dtype=int)}))
    with pytest.raises(NotEnoughError, match="no rate to plan with"):
        plan_trial(none, levels, Question("bond"))
    with pytest.raises(NotEnoughError, match="more than 800 runs"):
        plan_trial(log, levels, Question("bond", (0.02, 0.018)))
    with pytest.raises(LogError, match="neither a failure family"):
        plan_trial(log, levels, Question("colour"))
