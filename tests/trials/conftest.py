"""A log and a plan that several tests of trials start from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from weakstep.process.model import RatedLimit
from weakstep.runlog.model import RunLog
from weakstep.runlog.read import read_log
from weakstep.trials.levels import choose_levels
from weakstep.trials.plan import plan_trial
from weakstep.trials.planned import TrialPlan
from weakstep.trials.question import Question

Build = Callable[..., RunLog]
Bench = Callable[..., RunLog]
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


@pytest.fixture(scope="session")
def chip_by_chip() -> Callable[[RunLog, str], RunLog]:
    """Return what gives every chip of a built log its run, and the value of one column there."""

    def given(log: RunLog, column: str) -> RunLog:
        run = np.repeat(np.arange(len(log.runs)), log.runs.tested)
        values = log.runs.numbers[column].to_numpy()[run]
        return replace(log, chips=log.chips.assign(run=log.runs.run_id[run], **{column: values}))

    return given


@pytest.fixture
def bench(log_of: Build) -> Bench:
    """Return forty runs at 1 to 40 of one parameter, a tenth of the chips failed."""

    def built(limit: float | None = None) -> RunLog:
        rated = (RatedLimit("heat", "it softens", "", upper=limit),) if limit else ()
        failed = np.tile([1, 0, 0, 0, 0], 8)
        return log_of(
            {"heat": np.arange(1.0, 41.0)}, {"bond": failed}, np.full(40, 2), rated_limits=rated
        )

    return built
