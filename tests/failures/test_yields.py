"""Yield of each step, and modes against steps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from weakstep.failures.by_mode import ModeLink
from weakstep.failures.model import StepRank
from weakstep.failures.wilson import wilson
from weakstep.failures.yields import step_yields, suspicions
from weakstep.interval import Interval


@pytest.fixture
def process(log_of):
    """Return a process whose bond failures are suspected 1 : 3 of mixing and plasma."""
    log = log_of({"x": np.arange(4.0)}, {"bond": np.ones(4, dtype=int)}, np.full(4, 2))
    good, lost = log.process.modes
    lost = replace(lost, likely_steps={"mixing": 1, "plasma": 3})
    return replace(log.process, modes=(good, lost))


def test_yields_roll_through_the_steps(process):
    """Worked by hand: 100 chips, 20 lost as 5 and 15: 95 %, 100 %, 80/95, 100 %; rolled 80 %."""
    yields = step_yields(process, {"bond_lost": 20}, 100)
    assert [one.step for one in yields] == ["mixing", "cure", "plasma", "contact"]
    assert [one.lost for one in yields] == [5.0, 0.0, 15.0, 0.0]
    np.testing.assert_allclose([one.share.estimate for one in yields], [0.95, 1.0, 80 / 95, 1.0])
    np.testing.assert_allclose([one.rolled for one in yields], [0.95, 0.95, 0.8, 0.8])
    whole = wilson(95, 100)
    assert yields[0].share.lower == pytest.approx(whole.lower)
    assert yields[0].share.upper == pytest.approx(whole.upper)


def test_no_suspicion_no_yield(process):
    """Without failures of a suspected mode nothing is shared out."""
    assert step_yields(process, {}, 100) == ()
    assert step_yields(process, {"bond_lost": 3}, 0) == ()


def test_suspicion_stands_beside_what_the_log_says(process):
    """Contact is not suspected but the log has evidence; cure has neither and is left out."""
    share = Interval(0.4, 0.2, 0.6, 0.9)
    ranks = (
        StepRank("bond", "contact", 1, share, "strong"),
        StepRank("bond", "plasma", 2, share, "none"),
        StepRank("bond", "cure", 3, share, "none"),
    )
    table = suspicions(process, ("bond_lost",), ranks, {})
    assert [(one.step, one.suspected, one.evidence) for one in table] == [
        ("mixing", 1, None),
        ("plasma", 3, "none"),
        ("contact", 0, "strong"),
    ]
    assert table[2].preventable_share == share
    assert {one.column for one in table} == {None}


def test_what_the_mode_alone_says_comes_before_its_family(process):
    """Plasma: no sign for this mode; cure: not suspected, but this mode is linked to it."""
    share = Interval(0.4, 0.2, 0.6, 0.9)
    ranks = (StepRank("bond", "contact", 1, share, "strong"),)
    by_mode = {
        ("bond_lost", "plasma"): ModeLink("exposure", 0.7, "none"),
        ("bond_lost", "cure"): ModeLink("cure_c", 0.2, "some"),
        ("bond_lost", "contact"): ModeLink("delay", 0.6, "none"),
    }
    table = suspicions(process, ("bond_lost",), ranks, by_mode)
    assert [(one.step, one.column, one.mode_evidence) for one in table] == [
        ("mixing", None, None),
        ("cure", "cure_c", "some"),
        ("plasma", "exposure", "none"),
    ]
