"""Finished trials: planted effects are found, luck is not, deviations are told."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import ModuleType

import numpy as np
import pandas as pd
import pytest

from weakstep.errors import LogError, NotEnoughError
from weakstep.failures.null_model import logistic
from weakstep.interval import Interval
from weakstep.runlog.model import Bound, RunLog
from weakstep.trials.finished import analyse_trial
from weakstep.trials.finished_words import finished_text, learned
from weakstep.trials.levels import Levels, choose_levels
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
    log = log_of(numbers, {"bond": rng.binomial(3, 0.2, 60)}, np.full(60, 3))
    chips = log.chips.assign(
        run=np.repeat(log.runs.run_id, 3), burst=np.repeat(numbers["burst"], 3)
    )
    return replace(log, chips=chips)


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


def outcomes(log: RunLog, plan: TrialPlan, rate_of: dict[float, int], seed: int = 0) -> RunLog:
    """Return the trial's log in which of three chips a run so many fail at each coded level."""
    done = carried_out(log, plan, (0.0,) * len(plan.columns), seed)
    failed = np.array([rate_of[run.coded[0]] for run in plan.runs])
    return replace(done, runs=replace(done.runs, failed={"bond": failed}))


def test_an_optimum_between_the_levels_is_learned(log_of: Build) -> None:
    """Two of three fail at the middle, none at the ends: no difference of the ends, but a bend."""
    log = start(log_of, ("heat",))
    plan = planned(log, ("heat",), Question("bond", (0.5, 0.1)), values=3)
    found = analyse_trial(outcomes(log, plan, {-1.0: 0, 0.0: 2, 1.0: 0}), plan)
    assert found.luck[0] > 0.05
    text = finished_text(found, log.process)
    assert text.startswith("The trial shows that the heat matters, but not that one end is better")
    assert "bond failures 0 % at 20.000, 67 % at 50.000 and 0 % at 80.000." in text
    assert "the effect bends, it does not follow a straight line" in text
    assert "Hold what did better" in text


def test_luck_and_interval_that_disagree_are_called_close(log_of: Build) -> None:
    """Either way round, the reader is told which of the two decides."""
    log = start(log_of, ("heat",))
    plan = planned(log, ("heat",), Question("bond", (0.5, 0.1)))
    found = analyse_trial(carried_out(log, plan, (1.5,)), plan)
    unlucky = finished_text(replace(found, luck=(0.06,)), log.process)
    assert "It is close: the interval below leaves out no difference at all" in unlucky
    flat = finished_text(replace(found, difference=Interval(0.2, -0.01, 0.4, 0.95)), log.process)
    assert "It is close: by the interval below it may be no difference at all" in flat
    assert "It is close" not in finished_text(found, log.process)


def test_what_several_parameters_leave_open_is_said(log_of: Build) -> None:
    """Aliased pairs, and how often one of five parameters shows by luck where none is clearer."""
    names = ("a", "b", "c", "d", "e")
    log = start(log_of, names)
    levels = tuple(Levels(name, (20.0, 80.0), 10.0, 90.0) for name in names)
    plan = plan_trial(log, levels, Question("bond", (0.45, 0.1)), most_combinations=8)
    found = analyse_trial(carried_out(log, plan, (1.5, 0.0, 0.0, 0.0, 0.0)), plan)
    text = finished_text(found, log.process)
    assert "By the design it may be that of the pairs named with it below instead." in text
    assert "  a, or b with d, or c with e: " in text
    assert "luck alone" not in text
    doubtful = replace(found, luck=(0.04, 0.5, 0.5, 0.5, 0.5))
    wide = replace(found.effects[1], estimate=Interval(4.0, 1.0, 9.0, 0.95))
    doubtful = replace(doubtful, effects=(found.effects[0], wide, *found.effects[2:]))
    text = finished_text(doubtful, log.process)
    assert "With 5 things looked at, luck alone shows one or more in up to 23 %" in text
    assert "  b, or a with d: 54.6 (2.72 to more than 1000)" in text


def test_yes_and_no_are_said_so(log_of: Build, builder: ModuleType) -> None:
    """Levels of a yes/no parameter are not numbers; chips treated unlike in a run are told."""
    described = (builder.make_parameter("touched", 0, kind="yes_no", role="setting"),)
    log = log_of(
        {"touched": np.tile([0.0, 1.0], 30)},
        {"bond": np.random.default_rng(3).binomial(3, 0.2, 60)},
        np.full(60, 3),
        parameters=described,
    )
    plan = plan_trial(log, (choose_levels(log, "touched"),), Question("bond", (0.5, 0.1)))
    done = carried_out(log, plan, (1.5,))
    numbers = done.runs.numbers.assign(touched=done.runs.numbers["touched"].abs())
    at = int(np.flatnonzero(numbers["touched"] == 0.0)[0])
    numbers.loc[at, "touched"] = 1 / 3
    found = analyse_trial(replace(done, runs=replace(done.runs, numbers=numbers)), plan)
    text = finished_text(found, log.process)
    assert " at yes of 'touched' (chance of luck" in text
    assert "  at no: " in text
    assert "33 % yes instead of no (touched)" in text


def test_a_broken_off_crossed_trial_keeps_its_single_effects(log_of: Build) -> None:
    """Without one of four combinations the pair cannot be told; the parameters can."""
    log = start(log_of, ("a", "b"))
    plan = planned(log, ("a", "b"), Question("burst"))
    done = carried_out(log, plan, (1.0, 0.0))
    gone = np.array([run.coded == (1.0, 1.0) for run in plan.runs])
    burst = np.where(gone, np.nan, done.runs.numbers["burst"])
    numbers = done.runs.numbers.assign(burst=burst)
    found = analyse_trial(replace(done, runs=replace(done.runs, numbers=numbers)), plan)
    assert [effect.words[0] for effect in found.effects] == [frozenset({1}), frozenset({2})]
    assert len(found.fit.missing) == gone.sum()


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
    text = finished_text(found, log.process)
    assert ": mean " in text
    assert "Left out are cells" not in text


def test_cells_that_only_bound_the_outcome_are_told(log_of: Build) -> None:
    """Two cells such as "> 300": they are in no mean, which is said; bounds elsewhere are not."""
    log = start(log_of, ("heat",))
    plan = planned(log, ("heat",), Question("burst"))
    cells = [Bound("sheet.csv", line, "burst", "above", 300.0, "> 300") for line in (2, 9)]
    bounds = (*cells, Bound("sheet.csv", 3, "heat", "below", 20.0, "< 20"))
    found = analyse_trial(replace(carried_out(log, plan, (1.0,)), bounds=bounds), plan)
    assert "only bound the burst, such as '> 300' (2)" in finished_text(found, log.process)


def test_centre_runs_show_a_bend(log_of: Build) -> None:
    """A crossed trial with runs at the middle says whether the line bends."""
    log = start(log_of, ("a", "b"))
    levels = tuple(Levels(name, (20.0, 80.0), 10.0, 90.0) for name in ("a", "b"))
    plan = plan_trial(log, levels, Question("bond", (0.45, 0.1)), centre_runs=1)
    found = analyse_trial(carried_out(log, plan, (0.5, 0.5)), plan)
    (bent,) = found.bends
    assert bent.columns == ("a", "b")
    text = finished_text(found, log.process)
    assert "The middle of all parameters less the mean of the levels" in text
    assert "a straight line between the levels is not ruled out" in text


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
    assert [one.run_id for one in found.fit.off_plan] == ["T001"]
    assert found.fit.missing == ("T002",)
    text = finished_text(found, log.process)
    assert "T001: 50.000 instead of" in text
    assert "1 planned run without an outcome: T002." in text


def test_what_a_trial_that_shows_nothing_could_have_shown(log_of: Build) -> None:
    """Nothing going on: the size it was planned for is told; with an effect, what comes next."""
    log = start(log_of, ("heat",))
    plan = planned(log, ("heat",), Question("bond", (0.5, 0.1)))
    quiet = finished_text(analyse_trial(carried_out(log, plan, (0.0,), 2), plan), log.process)
    assert "does not show" in quiet
    assert "It was planned for 50 % against 10 %, with a chance of 8" in quiet
    shown = finished_text(analyse_trial(carried_out(log, plan, (2.0,), 2), plan), log.process)
    assert "look again with 'weakstep compare'" in shown


def test_an_empty_sheet_cannot_be_read(log_of: Build) -> None:
    """Without outcomes there is one sentence."""
    log = start(log_of, ("heat",))
    plan = planned(log, ("heat",), Question("bond", (0.5, 0.1)))
    done = carried_out(log, plan, (1.5,))
    empty = replace(done, runs=replace(done.runs, tested=0 * done.runs.tested))
    with pytest.raises(NotEnoughError, match=r"No run with the heat at 20\.000 has an outcome yet"):
        analyse_trial(empty, plan)


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
    assert "a linear model of run means with all parameters and a mean for each block." in text
    found = analyse_trial(carried_out(log, plan, (2.0, *[0.0] * 8)), plan)
    assert len(found.effects) == 9
    assert found.effects[0].estimate.lower > 0.0
    assert "part0 (more at the high level)" in learned(found, log.process)
    assert "A screening design was used" in finished_text(found, log.process)
    with pytest.raises(LogError, match="12 factors are more than the 11"):
        plan_trial(log, tuple(replace(levels[0], column=f"x{i}") for i in range(12)), Question())
