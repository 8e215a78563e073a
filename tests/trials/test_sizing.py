"""How large trials are planned: what the log tells of spread, and of chips failing together."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from weakstep.errors import NotEnoughError
from weakstep.process.load import load_process
from weakstep.runlog.model import RunLog
from weakstep.trials.levels import choose_levels
from weakstep.trials.plan import plan_trial
from weakstep.trials.plan_words import plan_text
from weakstep.trials.planned import TrialPlan
from weakstep.trials.question import Question
from weakstep.trials.sizing import pairs_within_runs, seen_with

Build = Callable[..., RunLog]
Bench = Callable[..., RunLog]
ChipByChip = Callable[[RunLog, str], RunLog]


def test_what_other_sizes_could_see(
    plan: TrialPlan, bench: Bench, chip_by_chip: ChipByChip
) -> None:
    """Fewer runs show larger effects only; pairs within runs; a measured outcome by the t test."""
    table = seen_with(plan)
    runs = [one.at_a_level or 10**6 for one in table]
    assert runs == sorted(runs, reverse=True)
    assert [one.effect for one in table] == pytest.approx([0.375, 0.25, 0.125, 0.05])
    text = plan_text(plan, load_process(), table)
    assert "| 50 % | 12 % |" in text
    assert "pairs side by side would do as well" in text
    levels = choose_levels(bench(), "heat", asked=(5.0, 30.0))
    log = bench()
    numbers = log.runs.numbers.assign(burst=np.tile([1.0, 2.0, 3.0, 4.0], 10))
    log = chip_by_chip(replace(log, runs=replace(log.runs, numbers=numbers)), "burst")
    measured = seen_with(plan_trial(log, (levels,), Question("burst")))
    assert measured[2].at_a_level == 17
    assert [one.at_a_level for one in measured] == [64, 29, 17, 9, 6]


def test_a_measured_outcome_is_sized_by_its_spread(log_of: Build, chip_by_chip: ChipByChip) -> None:
    """One standard deviation: 17 runs at each level by the t test, few more in small blocks."""
    rng = np.random.default_rng(1)
    log = log_of(
        {"heat": np.arange(1.0, 41.0), "burst": rng.normal(200, 10, 40)},
        {"bond": np.tile([1, 0, 0, 0], 10)},
        np.full(40, 2),
    )
    log = chip_by_chip(log, "burst")
    plan = plan_trial(log, (choose_levels(log, "heat"),), Question("burst"))
    assert plan.rates is None
    assert 34 <= len(plan.runs) <= 40
    assert 0.8 <= plan.power < 0.85
    assert "82 % chance, by carrying the trial out on paper" in plan_text(plan, log.process, ())


@pytest.mark.parametrize("size", [3.0, 6.0, 40.0])
def test_a_small_trial_can_be_dealt_in_enough_ways(
    log_of: Build, chip_by_chip: ChipByChip, size: float
) -> None:
    """However large the difference: a dealing and its mirror are at most 5 % of all."""
    rng = np.random.default_rng(1)
    numbers = {"heat": np.arange(40.0), "dry": rng.normal(size=40), "burst": rng.normal(size=40)}
    log = chip_by_chip(log_of(numbers, {"bond": np.tile([1, 0], 20)}, np.full(40, 2)), "burst")
    for names in (("heat",), ("heat", "dry")):
        levels = tuple(choose_levels(log, name) for name in names)
        for a_day in (2, 4, 20):
            question = Question("burst", None, size)
            plan = plan_trial(log, levels, question, runs_per_day=a_day, chips=2)
            in_blocks = [
                sum(one.block == block + 1 for one in plan.runs) for block in range(plan.blocks)
            ]
            assert 2.0 / math.prod(math.comb(runs, runs // 2) for runs in in_blocks) <= 0.05


def test_fewer_chips_a_run_take_more_runs(log_of: Build, chip_by_chip: ChipByChip) -> None:
    """Chips that scatter as much as runs: a mean of 4 has sd sqrt(1.25), of 1 sqrt(2) (5 %)."""
    rng = np.random.default_rng(6)
    log = log_of(
        {"heat": np.arange(400.0), "burst": rng.normal(200, 1, 400)},
        {"bond": np.tile([1, 0, 0, 0], 100)},
        np.full(400, 4),
    )
    log = chip_by_chip(log, "burst")
    log = replace(log, chips=log.chips.assign(burst=log.chips["burst"] + rng.normal(0, 1, 1600)))
    levels = (choose_levels(log, "heat"),)
    alone, four = (
        plan_trial(log, levels, Question("burst", None, 1.0), chips=chips) for chips in (1, 4)
    )
    assert alone.deviation == pytest.approx(np.sqrt(2.0), rel=0.05)
    assert four.deviation == pytest.approx(np.sqrt(1.25), rel=0.05)
    assert alone.correlation == four.correlation == pytest.approx(0.5, abs=0.05)
    assert len(alone.runs) > len(four.runs)
    with pytest.raises(NotEnoughError, match="takes more than 800 runs"):
        plan_trial(log, levels, Question("burst", None, 0.001))


def test_a_log_of_single_chips_does_not_tell_how_they_fail_together(
    log_of: Build, chip_by_chip: ChipByChip
) -> None:
    """Planned with several chips a run, a usual correlation stands in, and it is said."""
    rng = np.random.default_rng(9)
    numbers = {"heat": np.arange(60.0), "burst": rng.normal(200.0, 10.0, 60)}
    log = log_of(numbers, {"bond": np.tile([1, 0, 0, 0], 15)}, np.full(60, 1))
    levels = (choose_levels(log, "heat"),)
    several = plan_trial(log, levels, Question("bond", (0.9, 0.1)), chips=3)
    assert (several.correlation, several.correlation_seen) == (0.1, False)
    text = plan_text(several, log.process, ())
    assert "with a correlation within runs of 0.10, for the log's runs hold one chip each" in text
    single = plan_trial(log, levels, Question("bond", (0.9, 0.1)))
    assert "correlation within runs" not in plan_text(single, log.process, ())
    measured = plan_trial(chip_by_chip(log, "burst"), levels, Question("burst"), chips=3)
    assert measured.deviation == pytest.approx(numbers["burst"].std(ddof=1))
    assert "correlation within runs of 1.00, for the log's runs" in plan_text(
        measured, log.process, ()
    )


def test_few_failures_do_not_promise_that_chips_fail_apart(log_of: Build) -> None:
    """Three failures in three runs: a correlation of 0 is drawn towards a small one."""
    failed = np.zeros(40, dtype=int)
    failed[[3, 11, 30]] = 1
    log = log_of({"heat": np.arange(40.0)}, {"bond": failed}, np.full(40, 3))
    plan = plan_trial(log, (choose_levels(log, "heat"),), Question("bond", (0.9, 0.1)))
    assert plan.correlation == pytest.approx(0.1 / 4.0)
    assert plan.correlation_seen


def test_pairs_are_as_sure_as_the_plan(plan: TrialPlan) -> None:
    """A plan with a higher power is compared with more pairs."""
    few, many = pairs_within_runs(plan), pairs_within_runs(replace(plan, power=0.95))
    assert few is not None
    assert many is not None
    assert few < many
    assert pairs_within_runs(replace(plan, power=1.0)) is not None
    assert pairs_within_runs(replace(plan, chips=1)) is None
    assert "pairs side by side" in plan_text(plan, load_process(), ())
    alone = replace(plan, runs=plan.runs[: few // (plan.chips // 2)])
    assert "pairs side by side" not in plan_text(alone, load_process(), ()), "no run is saved"
