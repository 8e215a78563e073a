"""Sentences of the verdict that a log seldom brings about."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.failures.model import Factor, MeasuredLink, MeasuredOutcome
from weakstep.failures.toofew import nothing_to_rank
from weakstep.failures.verdict import round_runs, tighten
from weakstep.interval import Interval


def factor(shape: str) -> Factor:
    """Return a strong factor without a window."""
    share = Interval(0.02, 0.0, 0.1, 0.9)
    return Factor(
        "bond", "delay", "contact", 1, share, None, None, shape, None, "", 0.001, 0.001, 0.001,
        "strong", (), 0.0, None, (),
    )  # fmt: skip


@pytest.fixture
def log(log_of, parameter_of):
    """Return an untested log with a delay and a burst pressure."""
    described = (
        parameter_of("delay", 3),
        parameter_of("twin", 3),
        parameter_of("burst_kpa", role="outcome", unit="kPa"),
    )
    zeros = np.zeros(20, dtype=int)
    return log_of({"delay": np.arange(20.0), "twin": np.arange(20.0)}, {"bond": zeros}, zeros,
                  parameters=described)  # fmt: skip


@pytest.mark.parametrize(
    ("shape", "said"),
    [
        ("falls above 1900", "look into the delay (failures fall above 1900)"),
        ("rises", "look into the delay (failures rise)"),
        ("more failures with M3 than with the rest", "(more failures with M3 than with the rest)"),
    ],
)
def test_without_a_window_the_shape_is_said(log, shape, said):
    """There is nothing to hold it in: the log saw too few runs on the good side."""
    assert said in tighten(factor(shape), log.process).sentence


def measured(evidence: str) -> tuple[MeasuredOutcome, ...]:
    """Return burst pressures whose low values are linked to the delay or its twin."""
    link = MeasuredLink("delay", "contact", 0.01, evidence, "rises", 0.01, 0.01, ("twin",))
    return (MeasuredOutcome("burst_kpa", 20, 0, 200.0, 3.0, 220.0, (link,)),)


def test_measured_outcomes_speak_where_nothing_was_tested(log):
    """With what cannot be told apart; the calendar is said, luck is said, silence is kept."""
    said = {
        kind: nothing_to_rank(log.process, log.runs, measured(kind), rankable=False)
        for kind in ("strong", "calendar", "some", "none")
    }
    assert said["strong"].action == "look_closer"
    assert said["strong"].sentence == (
        "Look closer at contact: low burst kpa is linked to the delay (or it may be the twin: this "
        "log cannot tell); vary it on purpose within one day to know whether it is the reason."
    )
    assert "anything unlogged that changed at the same time" in said["calendar"].sentence
    assert said["some"].action == "log_more"
    assert "may well be luck" in said["some"].sentence
    assert "No chip in this log has a known outcome" in said["none"].sentence


def test_runs_are_rounded_up_to_two_digits():
    """No recommendation pretends to know single runs among hundreds."""
    assert [round_runs(value) for value in (0.2, 7.0, 99.5, 101.0, 328.4, 2001.0)] == [
        1, 7, 100, 110, 330, 2100,
    ]  # fmt: skip
