"""Plans of trials: orders by lot, blocks, sizes, words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import ModuleType

import numpy as np
import pytest

from weakstep.errors import LogError, NotEnoughError
from weakstep.process.load import load_process
from weakstep.runlog.model import RunLog
from weakstep.trials.levels import choose_levels
from weakstep.trials.pace import Pace, pace_of
from weakstep.trials.plan import plan_trial
from weakstep.trials.plan_words import plan_text
from weakstep.trials.planned import TrialPlan
from weakstep.trials.power import runs_at_each_level
from weakstep.trials.question import Question
from weakstep.trials.sizing import seen_with

Build = Callable[..., RunLog]
Bench = Callable[..., RunLog]
ChipByChip = Callable[[RunLog, str], RunLog]


def test_blocks_hold_every_level_equally_often(plan: TrialPlan) -> None:
    """As many at either level in every block, in an order drawn by lot."""
    for block in range(1, plan.blocks + 1):
        coded = [run.coded[0] for run in plan.runs if run.block == block]
        assert sum(coded) == 0.0
        assert len(coded) >= 2
    orders = {
        tuple(run.coded[0] for run in plan.runs if run.block == block)
        for block in range(1, plan.blocks + 1)
    }
    assert len(orders) > 1, "each block has an order of its own"
    assert plan.power >= 0.8


def test_blocks_are_as_large_as_the_lab_is_quick(semester: RunLog) -> None:
    """The demo's lab makes one to four runs a day and eight a week: weeks; or as the user says."""
    levels = (choose_levels(semester, "delay_s", asked=(35.0, 90.0)),)
    question = Question("bond", (0.5, 0.1))
    pace = pace_of(semester)
    assert (pace.block_by, pace.runs, pace.a_day) == ("week", 8, 2.75)
    weekly = plan_trial(semester, levels, question)
    assert max(run.block for run in weekly.runs) == weekly.blocks == -(-len(weekly.runs) // 8)
    daily = plan_trial(semester, levels, question, runs_per_day=6)
    sizes = [sum(run.block == block for run in daily.runs) for block in range(1, daily.blocks + 1)]
    assert max(sizes) <= 6
    assert daily.block_by == "day"
    assert "(one day each)" in plan_text(daily, semester.process, ())
    by_hand = plan_trial(semester, levels, question, block_by="operator")
    assert "(one operator each)" in plan_text(by_hand, semester.process, ())


def test_a_log_without_dates_gets_days_of_four(bench: Bench) -> None:
    """Nothing tells the pace: four runs a block."""
    assert pace_of(bench()) == Pace("day", 4, None)


def test_large_designs_stay_whole(semester: RunLog) -> None:
    """Sixteen combinations do not fit into a day of three runs: a block takes several days."""
    names = ("delay_s", "plasma_s", "dry_min", "bake_min")
    levels = tuple(choose_levels(semester, name) for name in names)
    plan = plan_trial(semester, levels, Question("bond", (0.6, 0.1)), runs_per_day=3)
    for block in range(1, plan.blocks + 1):
        combinations = {run.coded for run in plan.runs if run.block == block}
        assert len(combinations) == 8 if plan.generators else 16
    assert "several days each" in plan_text(plan, semester.process, ())


def test_a_block_longer_than_a_week_is_not_called_one(semester: RunLog, plan: TrialPlan) -> None:
    """The log shows fewer than eight runs a week, so a block of eight combinations lasts longer."""
    levels = tuple(choose_levels(semester, name) for name in ("delay_s", "plasma_s", "bake_min"))
    large = plan_trial(semester, levels, Question("bond", (0.6, 0.1)), block_by="week")
    assert pace_of(semester, block_by="week").runs <= len(large.runs) / large.blocks == 8
    assert "(one of each combination; a week where" in plan_text(large, semester.process, ())
    assert "(about a week each" in plan_text(plan, semester.process, ())


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


def test_words_say_how_it_will_be_read(plan: TrialPlan) -> None:
    """The analysis stands before the data: test, interval, power, table."""
    text = plan_text(plan, load_process(), seen_with(plan))
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
    assert "Generated by D=ABC, the parameters above being A, B, C, D." in text
    assert "delay from glow to contact with plasma exposure = drying time with bake time" in text
    with pytest.raises(LogError, match="at most 4 combinations"):
        plan_trial(semester, levels, Question("bond"), most_combinations=4)


def test_a_fraction_that_keeps_pairs_apart_says_what_it_mixes(semester: RunLog) -> None:
    """Five in sixteen combinations, resolution V: the generator, and what is mixed."""
    names = ("delay_s", "plasma_s", "dry_min", "bake_min", "pressure_pa")
    levels = tuple(choose_levels(semester, name) for name in names)
    plan = plan_trial(semester, levels, Question("failures", (0.9, 0.1)))
    text = plan_text(plan, semester.process, ())
    assert "some combinations may be new: think every one through" in text
    assert "resolution V: parameters and pairs are all told apart. Generated by E=ABCD" in text
    assert "Both are mixed only with joint effects of three parameters and more." in text


def test_the_parameter_with_most_levels_sets_the_size(semester: RunLog) -> None:
    """Two levels crossed with three: each of the three has as many runs as are asked for."""
    levels = (
        choose_levels(semester, "delay_s", asked=(35.0, 90.0)),
        choose_levels(semester, "dry_min", asked=(6.0, 9.0, 12.0)),
    )
    plan = plan_trial(semester, levels, Question("failures", (0.5, 0.1)))
    at_a_level = [sum(run.coded[1] == coded for run in plan.runs) for coded in (-1.0, 0.0, 1.0)]
    found = runs_at_each_level(
        (0.5, 0.1), chips=plan.chips, correlation=plan.correlation, step=2, a_block=2
    )
    assert found is not None
    assert at_a_level == [found[0]] * 3
    text = plan_text(plan, semester.process, seen_with(plan))
    assert "from 50 % at one end to 10 % at the other" in text
    assert "With 3 things looked at, luck alone shows one or more in about 14 %" in text
    assert "of all parameters together, counts divided by" in text, "pairs are not read"
    row = next(line for line in text.splitlines() if line.startswith("| 50 % | 5 % |"))
    cells = [int(cell) for cell in row.split("|")[3:5]]
    assert cells[1] == 3 * cells[0]


def test_the_price_is_told_of_the_worse_level_whatever_run_comes_first(semester: RunLog) -> None:
    """Also where the first run is one at the middle (seed found so)."""
    levels = (choose_levels(semester, "delay_s", asked=(35.0, 90.0)),)
    plans = (
        plan_trial(semester, levels, Question("bond", (0.9, 0.1)), centre_runs=2, seed=seed)
        for seed in range(12)
    )
    plan = next(plan for plan in plans if plan.runs[0].coded == (0.0,))
    worse = sum(run.coded[0] == 1.0 for run in plan.runs) * plan.chips
    assert f"of the {worse} chips at the worse level" in plan_text(plan, semester.process, ())


def test_yes_and_no_have_no_middle_and_no_other_levels(log_of: Build, builder: ModuleType) -> None:
    """Runs at the middle, and levels other than no:yes, are refused."""
    described = (builder.make_parameter("touched", 0, kind="yes_no", role="setting"),)
    log = log_of(
        {"touched": np.tile([0.0, 1.0], 20)},
        {"bond": np.tile([1, 0, 0, 0], 10)},
        np.full(40, 2),
        parameters=described,
    )
    levels = (choose_levels(log, "touched", asked=(0.0, 1.0)),)
    plan = plan_trial(log, levels, Question("bond", (0.9, 0.1)))
    assert "- touched: no, yes" in plan_text(plan, log.process, ())
    with pytest.raises(LogError, match="is yes or no and has no middle"):
        plan_trial(log, levels, Question(), centre_runs=1)
    with pytest.raises(LogError, match="its two levels are no:yes"):
        choose_levels(log, "touched", asked=(0.0, 0.5))


def test_what_comes_first_is_said_once(plan: TrialPlan, log_of: Build) -> None:
    """The standing caution of a description says it; without one the plan does."""
    assert plan_text(plan, load_process(), ()).count("safety rules") == 1
    assert "some combinations may be new" not in plan_text(plan, load_process(), ())
    bare = log_of({"delay_s": np.arange(9.0)}, {"bond": np.ones(9, dtype=int)}, np.full(9, 2))
    none = replace(plan, cautions=())
    assert plan_text(none, bare.process, ()).count("Your lab's safety rules") == 1


def test_questions_that_cannot_be_planned(bench: Bench) -> None:
    """Nothing failed, too small an effect, unknown outcome: a sentence each."""
    log = bench()
    levels = (choose_levels(log, "heat"),)
    none = replace(log, runs=replace(log.runs, failed={"bond": np.zeros(40, dtype=int)}))
    with pytest.raises(NotEnoughError, match="no rate to plan with"):
        plan_trial(none, levels, Question("bond"))
    with pytest.raises(NotEnoughError, match="more than 800 runs"):
        plan_trial(log, levels, Question("bond", (0.02, 0.018)))
    with pytest.raises(LogError, match="neither a failure family"):
        plan_trial(log, levels, Question("colour"))
