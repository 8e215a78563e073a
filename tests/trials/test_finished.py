"""Finished trials: planted effects are found, luck is not, deviations are told."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from weakstep.errors import LogError, NotEnoughError
from weakstep.failures.null_model import logistic
from weakstep.runlog.model import RunLog
from weakstep.trials.finished import analyse_trial
from weakstep.trials.finished_words import finished_text, learned
from weakstep.trials.levels import Levels
from weakstep.trials.plan import plan_trial
from weakstep.trials.plan_words import plan_text
from weakstep.trials.planned import TrialPlan
from weakstep.trials.question import Question

Build = Callable[..., RunLog]


def start(log_of: Build, names: tuple[str, ...]) -> RunLog:
    """Return a log to plan from: 60 runs of 3 chips, a fifth failed, independent."""
    rng = np.random.default_rng(3)
    numbers = {name: rng.uniform(10, 90, 60) for name in names}
    numbers["burst"] = rng.normal(200.0, 10.0, 60)
    return log_of(numbers, {"bond": rng.binomial(3, 0.2, 60)}, np.full(60, 3))


def carried_out(log: RunLog, plan: TrialPlan, slopes: tuple[float, ...], seed: int = 0) -> RunLog:
    """Return the trial's log: failures (and burst pressure) follow the coded levels."""
    rng = np.random.default_rng(seed)
    coded = np.array([run.coded for run in plan.runs])
    block = np.array([run.block for run in plan.runs])
    push = coded @ np.array(slopes)
    eta = -1.0 + push + rng.normal(0, 0.5, block.max() + 1)[block]
    runs = log.runs
    numbers = pd.DataFrame(
        {name: [run.settings[i] for run in plan.runs] for i, name in enumerate(plan.columns)}
    )
    numbers["burst"] = 200.0 + 8.0 * push + rng.normal(0, 10, len(push))
    return replace(
        log,
        runs=replace(
            runs,
            run_id=np.array([run.run_id for run in plan.runs]),
            started_at=np.full(len(push), np.datetime64("NaT", "ns")),
            operator=np.full(len(push), ""),
            week=np.zeros(len(push), dtype=int),
            numbers=numbers,
            categories=pd.DataFrame(index=range(len(push))),
            tested=np.full(len(push), plan.chips),
            failed={"bond": rng.binomial(plan.chips, logistic(eta))},
        ),
    )


def planned(log: RunLog, names: tuple[str, ...], question: Question, values: int = 2) -> TrialPlan:
    """Return a plan with the same levels for every parameter."""
    ends = (20.0, 80.0) if values == 2 else (20.0, 50.0, 80.0)
    levels = tuple(Levels(name, ends, 10.0, 90.0) for name in names)
    return plan_trial(log, levels, question)


def test_one_parameter_with_an_effect(log_of: Build) -> None:
    """Two levels, three logits apart: shown, the interval right of 0, the sentence says so."""
    log = start(log_of, ("heat",))
    plan = planned(log, ("heat",), Question("bond", (0.5, 0.1)))
    found = analyse_trial(carried_out(log, plan, (1.5,)), plan)
    assert found.difference is not None
    assert found.difference.lower > 0.0
    assert found.luck[0] < 0.01
    assert "The trial shows it" in learned(found, log.process)


def test_nothing_going_on_is_called_at_most_one_in_twenty(log_of: Build) -> None:
    """400 trials without an effect: luck <= 5 % in at most 5 % (3 standard errors)."""
    log = start(log_of, ("heat",))
    plan = planned(log, ("heat",), Question("bond", (0.6, 0.1)))
    wrong = sum(
        analyse_trial(carried_out(log, plan, (0.0,), seed), plan, seed=seed).luck[0] <= 0.05
        for seed in range(400)
    )
    assert wrong <= 400 * 0.05 + 3 * np.sqrt(400 * 0.05 * 0.95)


def test_three_levels_are_told_one_by_one(log_of: Build) -> None:
    """A line for each level, with its rate and interval."""
    log = start(log_of, ("heat",))
    plan = planned(log, ("heat",), Question("bond", (0.5, 0.1)), values=3)
    found = analyse_trial(carried_out(log, plan, (1.5,)), plan)
    assert [at.value for at in found.levels] == [20.0, 50.0, 80.0]
    rates = [at.outcome.estimate for at in found.levels]
    assert rates[0] < rates[1] < rates[2]
    assert finished_text(found, log.process).count("failed in") == 3


def test_crossed_parameters_and_what_is_aliased(log_of: Build) -> None:
    """Five in 16 combinations: the two that matter are named, no other."""
    names = ("a", "b", "c", "d", "e")
    log = start(log_of, names)
    plan = planned(log, names, Question("bond", (0.45, 0.1)))
    found = analyse_trial(carried_out(log, plan, (1.2, 0.0, -1.2, 0.0, 0.0)), plan)
    assert plan.resolution == "V"
    called = [name for name, luck in zip(names, found.luck, strict=True) if luck <= 0.05]
    assert called == ["a", "c"]
    first, third = found.effects[0].estimate, found.effects[2].estimate
    assert first.lower <= 2.4 <= first.upper
    assert third.lower <= -2.4 <= third.upper
    assert "a (more at the high level), c (less at the high level)" in learned(found, log.process)


def test_a_measured_outcome(log_of: Build) -> None:
    """Burst pressure differs by 16 between the levels; Welch's interval holds it."""
    log = start(log_of, ("heat",))
    plan = planned(log, ("heat",), Question("burst"))
    found = analyse_trial(carried_out(log, plan, (1.0,)), plan)
    assert found.difference is not None
    assert found.difference.lower <= 16.0 <= found.difference.upper
    assert "mean" in finished_text(found, log.process)


def test_centre_runs_show_a_bend(log_of: Build) -> None:
    """A crossed trial with runs at the middle says whether the line bends."""
    log = start(log_of, ("a", "b"))
    levels = tuple(Levels(name, (20.0, 80.0), 10.0, 90.0) for name in ("a", "b"))
    plan = plan_trial(log, levels, Question("bond", (0.45, 0.1)), centre_runs=1)
    found = analyse_trial(carried_out(log, plan, (0.5, 0.5)), plan)
    assert found.bend is not None
    assert "straight line" in finished_text(found, log.process)


def test_what_was_not_set_as_planned_is_told(log_of: Build) -> None:
    """A run at the wrong value counts at the planned level and is named; a missing one is too."""
    log = start(log_of, ("heat",))
    plan = planned(log, ("heat",), Question("bond", (0.5, 0.1)))
    done = carried_out(log, plan, (1.5,))
    numbers = done.runs.numbers.copy()
    numbers.loc[0, "heat"] = 50.0
    tested = done.runs.tested.copy()
    tested[1] = 0
    done = replace(done, runs=replace(done.runs, numbers=numbers, tested=tested))
    found = analyse_trial(done, plan)
    assert [one[0] for one in found.off_plan] == ["T001"]
    text = finished_text(found, log.process)
    assert "T001: 50.000 instead of" in text
    assert "1 planned run without an outcome" in text


def test_what_a_trial_that_shows_nothing_could_have_shown(log_of: Build) -> None:
    """Nothing going on: the size it was planned for is told; with an effect, what comes next."""
    log = start(log_of, ("heat",))
    plan = planned(log, ("heat",), Question("bond", (0.5, 0.1)))
    quiet = finished_text(analyse_trial(carried_out(log, plan, (0.0,), 2), plan), log.process)
    assert "does not show" in quiet
    assert "Planned for 50 % against 10 %, which it had an 8" in quiet
    shown = finished_text(analyse_trial(carried_out(log, plan, (2.0,), 2), plan), log.process)
    assert "look again with 'weakstep compare'" in shown


def test_an_empty_sheet_cannot_be_read(log_of: Build) -> None:
    """Without outcomes there is one sentence."""
    log = start(log_of, ("heat",))
    plan = planned(log, ("heat",), Question("bond", (0.5, 0.1)))
    done = carried_out(log, plan, (1.5,))
    empty = replace(done, runs=replace(done.runs, tested=0 * done.runs.tested))
    with pytest.raises(NotEnoughError, match="cannot be read yet"):
        analyse_trial(empty, plan)


SEMESTER = Path(__file__).parents[2] / "datasets" / "semester" / "logs"
VARY = ["trial", str(SEMESTER), "-o", "x", "--vary", "delay_s"]


def test_the_command_plans_and_reads(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`trial` writes a sheet; filled in, `trial --analyse` reads it and draws the effects."""
    from weakstep.cli import main

    words = ["trial", str(SEMESTER), "-o", str(tmp_path / "t"), "--outcome", "bond"]
    words += ["--rates", "0.6:0.1", "--vary", "delay_s=35:90", "--vary", "dry_min"]
    assert main(words) == 0
    assert "Two levels each, all combinations" in capsys.readouterr().out
    sheet = tmp_path / "t" / "sheet.csv"
    lines = sheet.read_text(encoding="utf-8").splitlines()
    head = lines[0].split(",")
    place, delay = head.index("outcome"), head.index("delay_s")
    rng = np.random.default_rng(1)
    for i, line in enumerate(lines[1:], 1):
        cells = line.split(",")
        cells[place] = "leak" if rng.random() < (0.6 if cells[delay] == "90" else 0.1) else "good"
        lines[i] = ",".join(cells)
    sheet.write_text("\n".join(lines), encoding="utf-8")
    assert main(["trial", "--analyse", str(sheet)]) == 0
    printed = capsys.readouterr().out
    assert "delay from glow to contact (more at the high level)" in printed
    assert ">delay from glow to contact<" in (tmp_path / "t" / "effects.svg").read_text("utf-8")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["trial"], "Name the LOG"),
        (["trial", str(SEMESTER), "-o", "x", "--vary", "colour"], "no numbers for 'colour'"),
        (["trial", "--analyse", "nowhere/sheet.csv"], "cannot be read"),
        ([*VARY, "--vary", "delay_s"], "'delay_s' is to be varied twice"),
        ([*VARY, "--outcome", "delay_s"], "cannot be varied and be the outcome"),
        ([*VARY, "--outcome", "room_c", "--rates", "0.3:0.1"], "say --difference instead"),
        ([*VARY, "--difference", "5"], "A difference is for a measured outcome"),
        ([*VARY, "--vary", "dry_min=6:9:12", "--centre", "1"], "a third level shows a bend"),
        (["trial", str(SEMESTER), "-o", "x", "--vary", "delay_s=35"], "found 1 level of different"),
        (["trial", str(SEMESTER), "-o", "x", "--vary", "delay_s=nan:50"], "outside what the log"),
        (["trial", str(SEMESTER), "-o", "x", "--outcome", "bond"], "need --vary"),
    ],
)
def test_the_command_refuses_in_one_sentence(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 2."""
    from weakstep.cli import main

    assert main(words) == 2
    assert said in capsys.readouterr().err


@pytest.mark.parametrize(
    "words", [["--centre", "-1"], ["--difference", "0"], ["--runs-per-day", "0"], ["--power", "1"]]
)
def test_numbers_that_make_no_sense_are_refused(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """Told by the option that was misread."""
    from weakstep.cli import main

    with pytest.raises(SystemExit, match="2"):
        main([*VARY, *words])
    assert f"argument {words[0]}" in capsys.readouterr().err


def test_nine_parameters_are_screened_in_twelve_combinations(log_of: Build) -> None:
    """A Plackett-Burman trial is planned, kept, said so, and finds the one that acts."""
    names = tuple(f"part{place}" for place in range(9))
    log = start(log_of, names)
    levels = tuple(Levels(name, (20.0, 80.0), 10.0, 90.0) for name in names)
    plan = plan_trial(log, levels, Question("burst"), most_combinations=12)
    assert (plan.generators, plan.resolution) == ("PB12", "III")
    assert len({run.coded for run in plan.runs}) == 12
    text = plan_text(plan, log.process, ())
    assert "Plackett-Burman" in text
    assert "a linear model of run means with all parameters. A parameter" in text
    found = analyse_trial(carried_out(log, plan, (2.0, *[0.0] * 8)), plan)
    assert len(found.effects) == 9
    assert found.effects[0].estimate.lower > 0.0
    assert "part0 (more at the high level)" in learned(found, log.process)
    with pytest.raises(LogError, match="12 factors are more than the 11"):
        plan_trial(log, tuple(replace(levels[0], column=f"x{i}") for i in range(12)), Question())
