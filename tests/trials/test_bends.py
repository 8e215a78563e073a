"""Outcomes that bend between the levels of a trial."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from weakstep.runlog.model import RunLog
from weakstep.trials.bends import Bent, bends_of, rate_apart
from weakstep.trials.differences import newcombe_difference
from weakstep.trials.filled import TrialRuns
from weakstep.trials.levels import choose_levels
from weakstep.trials.nested import nesting
from weakstep.trials.plan import plan_trial
from weakstep.trials.planned import TrialPlan
from weakstep.trials.power import nested_failures
from weakstep.trials.question import Question
from weakstep.trials.shares import beta_limits


def done(coded: list[float], failed: list[int], tested: list[int]) -> TrialRuns:
    """Return a trial of one parameter in one block."""
    block = np.zeros(len(coded), dtype=np.intp)
    return TrialRuns(np.array(coded)[:, None], block, np.array(failed), np.array(tested), None)


@pytest.fixture(scope="module")
def three(semester: RunLog) -> TrialPlan:
    """Return a plan of the delay at three levels."""
    levels = (choose_levels(semester, "delay_s", asked=(35.0, 60.0, 90.0)),)
    return plan_trial(semester, levels, Question("bond", (0.6, 0.1)))


def test_single_chips_by_newcombes_interval() -> None:
    """One chip a run: 9 of 12 at the middle against 4 of 24, with the t quantile of 33."""
    coded = [-1.0] * 12 + [0.0] * 12 + [1.0] * 12
    failed = [1] * 2 + [0] * 10 + [1] * 9 + [0] * 3 + [1] * 2 + [0] * 10
    runs = done(coded, failed, [1] * 36)
    found = rate_apart(runs, runs.coded[:, 0] == 0.0, 0.95)
    by_hand = newcombe_difference((9, 12), (4, 24), freedom=33, limits=beta_limits)
    assert found.estimate == pytest.approx(9 / 12 - 4 / 24)
    assert (found.lower, found.upper) == pytest.approx((by_hand.lower, by_hand.upper))


def test_ends_that_differ_are_no_nesting() -> None:
    """Rates far apart at the ends: the correlation is that within levels, as `nesting` has it."""
    coded = [-1.0] * 8 + [0.0] * 8 + [1.0] * 8
    failed = [0, 1, 0, 0, 1, 0, 0, 0, 2, 1, 3, 2, 1, 2, 1, 0, 3, 3, 2, 3, 3, 2, 3, 3]
    runs = done(coded, failed, [3] * 24)
    found = rate_apart(runs, runs.coded[:, 0] == 0.0, 0.95)
    group = np.repeat([0, 1, 2], 8)
    effect = nesting(runs.failed, runs.tested, group).effects[0]
    lost = [runs.failed[group == 1].sum() / effect, runs.failed[group != 1].sum() / effect]
    by_hand = newcombe_difference(
        (lost[0], 24 / effect), (lost[1], 48 / effect), freedom=21, limits=beta_limits
    )
    assert (found.lower, found.upper) == pytest.approx((by_hand.lower, by_hand.upper))


def test_a_straight_line_is_seldom_said_to_bend() -> None:
    """1000 trials of rates 0.5, 0.3, 0.1, chips nested: at most 5 % (3 standard errors)."""
    rng = np.random.default_rng(20)
    coded = [-1.0] * 13 + [0.0] * 13 + [1.0] * 13
    rates = np.repeat([0.5, 0.3, 0.1], 13)
    said = 0
    for _ in range(1000):
        lost = nested_failures(rng, rates, 3, 0.3, (39,)).astype(int)
        runs = done(coded, lost.tolist(), [3] * 39)
        said += Bent(("x",), rate_apart(runs, runs.coded[:, 0] == 0.0, 0.95)).shown
    assert said <= 1000 * 0.05 + 3 * np.sqrt(1000 * 0.05 * 0.95)


def test_an_optimum_is_found_where_the_ends_are_alike(three: TrialPlan) -> None:
    """All fail at the middle, none at the ends: shown; nothing at all: not; no middle yet: none."""
    coded = np.array([run.coded for run in three.runs])
    block = np.array([run.block for run in three.runs])
    tested = np.full(len(coded), 3)
    failed = np.where(coded[:, 0] == 0.0, 3, 0)
    runs = TrialRuns(coded, block, failed, tested, None)
    (found,) = bends_of(runs, three)
    assert found.columns == ("delay_s",)
    assert found.shown
    assert found.size.lower < 1.0 == found.size.estimate
    (flat,) = bends_of(replace(runs, failed=0 * failed), three)
    assert not flat.shown
    ends = coded[:, 0] != 0.0
    begun = TrialRuns(coded[ends], block[ends], failed[ends], tested[ends], None)
    assert bends_of(begun, three) == ()


def test_a_measured_outcome_bends_at_the_plans_alpha(three: TrialPlan) -> None:
    """With an alpha of 1 % the interval is one of 99 %."""
    coded = np.array([run.coded for run in three.runs])
    rng = np.random.default_rng(2)
    measured = 100.0 - 30.0 * coded[:, 0] ** 2 + rng.normal(0.0, 3.0, len(coded))
    zeros = np.zeros(len(coded), dtype=int)
    runs = TrialRuns(coded, zeros, zeros, zeros, measured)
    (found,) = bends_of(runs, replace(three, alpha=0.01, rates=None, difference=1.0))
    assert found.size.level == 0.99
    assert found.size.lower <= 30.0 <= found.size.upper
    assert found.shown


def test_three_levels_of_two_parameters(semester: RunLog) -> None:
    """Each has a bend of its own, over all levels of the other, and a single effect."""
    levels = (
        choose_levels(semester, "delay_s", asked=(35.0, 60.0, 90.0)),
        choose_levels(semester, "dry_min", asked=(6.0, 9.0, 12.0)),
    )
    plan = plan_trial(semester, levels, Question("bond", (0.9, 0.1)))
    coded = np.array([run.coded for run in plan.runs])
    tested = np.full(len(coded), 3)
    failed = np.where(coded[:, 0] == 0.0, 3, 0)
    runs = TrialRuns(coded, np.zeros(len(coded), dtype=np.intp), failed, tested, None)
    delay, drying = bends_of(runs, plan)
    assert (delay.columns, drying.columns) == (("delay_s",), ("dry_min",))
    assert delay.shown
    assert not drying.shown
    assert drying.size.estimate == pytest.approx(0.0)
