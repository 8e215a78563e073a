"""Sentences of the verdict that a log seldom brings about."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from weakstep.failures.model import (
    Factor,
    MeasuredLink,
    MeasuredOutcome,
    TighteningCurve,
    Window,
)
from weakstep.failures.toofew import notes_on_measured, nothing_to_rank, too_little
from weakstep.failures.verdict import log_more, next_after, round_runs, tighten
from weakstep.interval import Interval


def factor(shape: str) -> Factor:
    """Return a strong factor without a window."""
    share = Interval(0.02, 0.0, 0.1, 0.9)
    return Factor(
        "bond", "delay", "contact", 1, share, None, None, shape, None, "", 0.001, 0.001, 0.001,
        "strong", (), 0.0, False, None, (),
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
        ("falls above 1900", "(failures fall above 1900)"),
        ("rises", "(failures rise)"),
        ("more failures with M3 than with the rest", "(more failures with M3 than with the rest)"),
    ],
)
def test_without_a_window_the_shape_is_said(log, shape, said):
    """There is nothing to hold it in, so nothing is said to be tightened."""
    sentence = tighten(factor(shape), log.process).sentence
    assert sentence.startswith(
        f"Look into the delay first {said}; 2 % (0 to 10 %) of bond failures"
    )
    assert "Tighten" not in sentence
    assert f"contact: look into the delay {said}; 2 %" in next_after(factor(shape), log.process)


def test_a_level_that_would_prevent_little_is_said_as_such(log):
    """Moulds may differ clearly without one of them accounting for many failures."""
    shape = "fewer failures with M1 than with the rest"
    share = Interval(0.01, 0.0, 0.02, 0.9)
    little = replace(factor(shape), level="without M3", preventable_share=share)
    sentence = tighten(little, log.process).sentence
    assert sentence.startswith(
        f"Look into the delay first ({shape}); even without M3 only 1 % (0 to 2 %) of bond "
        "failures might not have happened (strong evidence"
    )
    much = replace(little, preventable_share=Interval(0.3, 0.1, 0.5, 0.9))
    assert (
        "30 % (10 to 50 %) of bond failures are linked to it" in tighten(much, log.process).sentence
    )


def held(share: float, rate: list[float]) -> Factor:
    """Return a factor held at or above 3, with this failure rate when held at or above 1 to 5."""
    limits, rates = np.arange(1.0, 6.0), np.array(rate)
    met = np.array([1.0, 0.8, 0.55, 0.2, 0.05])
    curve = TighteningCurve("lower", limits, rates, rates - 0.1, rates + 0.1, met, 0.9)
    return replace(
        factor("falls"),
        preventable_share=Interval(share, 0.0, 2 * share, 0.9),
        window=Window(3.0, None, "s"),
        tightening=(curve,),
    )


def test_a_gain_that_lies_beyond_what_most_runs_did_is_said(log):
    """
    A window holds half of the runs; at or above 4, where a fifth of them were, failures halve.

    At or above 5 they would be rarer still, but a twentieth of the runs is too little to tell.
    """
    sentence = tighten(held(0.04, [0.4, 0.4, 0.385, 0.2, 0.1]), log.process).sentence
    assert (
        "hold the delay at or above 3.000; only 4 % (0 to 8 %) of bond failures are linked to "
        "lower values, because the gain lies further out: with every run at or above 4.000, as "
        "20 % of them were, 20 % (10 to 30 %) would be expected to fail that way instead of 40 % "
        "(strong evidence"
    ) in sentence


@pytest.mark.parametrize(
    ("share", "rate"),
    [
        (0.3, [0.4, 0.35, 0.28, 0.2, 0.1]),
        (0.04, [0.4, 0.4, 0.385, 0.37, 0.1]),
        (0.09, [0.4, 0.38, 0.364, 0.33, 0.1]),
    ],
    ids=["the window prevents much", "little to gain", "little more to gain"],
)
def test_nothing_is_said_of_gains_further_out(log, share, rate):
    """Where the window prevents much, or no limit prevents much more."""
    sentence = tighten(held(share, rate), log.process).sentence
    assert "further out" not in sentence
    assert "only" not in sentence


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (Interval(0.3, 0.1, 0.5, 0.9), "contact first: hold"),
        (Interval(0.11, 0.004, 0.44, 0.9),
         "contact first, though how much that prevents is unsure: hold"),
        (Interval(0.04, 0.0, 0.08, 0.9), "contact first, though that would prevent little: hold"),
    ],
)  # fmt: skip
def test_a_clear_link_with_an_unsure_or_a_small_share_says_so(log, share, said):
    """How sure the link is says nothing of how much holding the window prevents."""
    found = replace(held(0.3, [0.4, 0.35, 0.28, 0.2, 0.1]), preventable_share=share, tightening=())
    assert said in tighten(found, log.process).sentence
    assert said.replace(" first", "") in next_after(found, log.process)


def test_a_link_against_expectation_says_so(log):
    """It is to be checked before anything is held, and the reason stands before the evidence."""
    found = replace(held(0.3, [0.4, 0.35, 0.28, 0.2, 0.1]), surprising=True)
    verdict = tighten(found, log.process)
    assert verdict.action == "tighten"
    assert verdict.sentence.startswith(
        "Check contact first, before you hold the delay at or above 3.000; 30 % (0 to 60 %) of "
        "bond failures are linked to lower values, against what the description expects (strong "
    )
    assert "contact: check before you hold the delay" in next_after(found, log.process)


@pytest.mark.parametrize(
    ("failed", "said"),
    [
        ([0], "The only tested chip did not fail: there is nothing to tighten; check that failed"),
        ([1], "The only tested chip failed: without a good one to compare with, no step stands"),
        ([0, 0], "No failure among 2 tested chips: there is nothing to tighten"),
        ([1, 1], "All 2 tested chips failed: without a good one"),
    ],
)
def test_one_chip_is_no_plural(log_of, failed, said):
    """A log of one chip, and of two."""
    tested = np.ones(len(failed), dtype=int)
    tiny = log_of({"a": np.arange(float(len(failed)))}, {"bond": np.array(failed)}, tested)
    verdict = nothing_to_rank(tiny.process, tiny.runs, (), rankable=False)
    assert verdict.sentence.startswith(said)


def test_one_factor_is_no_plural(log):
    """Of a log that holds a single parameter."""
    assert "among 1 factor in 20 runs" in log_more(1, 20, None, None, log.process).sentence


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
    assert said["some"].sentence == (
        "Nothing stands out yet: low burst kpa goes most with the delay (or it may be the twin: "
        "this log cannot tell), but that may well be luck; log more runs."
    )
    assert "No chip in this log has a known outcome" in said["none"].sentence


def test_measured_outcomes_are_noted_beside_another_verdict(log):
    """What is clear of them, in a sentence; what may be luck is not told."""
    notes = {kind: notes_on_measured(log.process, measured(kind)) for kind in
             ("strong", "calendar", "some", "none")}  # fmt: skip
    low = "Low burst kpa is linked to the delay (or it may be the twin: this log cannot tell)"
    assert notes == {
        "strong": (f"{low} (strong evidence).",),
        "calendar": (
            f"{low}, but anything unlogged that changed at the same time would look the same.",
        ),
        "some": (),
        "none": (),
    }


@pytest.mark.parametrize(
    ("good", "said"),
    [
        (0, "linked to: all failed that way, 5 that did not are needed."),
        (2, "linked to: only 2 did not fail that way, 3 more needed to compare with."),
        (5, None),
    ],
)
def test_without_good_ones_there_is_nothing_to_compare_with(good, said):
    """Of 30 chips in 15 runs, few or none did not fail."""
    failed = np.full(15, 2)
    failed[:good] -= 1
    words = too_little("bond", failed, np.full(15, 2))
    assert words is None if said is None else words.endswith(said)


def test_runs_are_rounded_up_to_two_digits():
    """No recommendation pretends to know single runs among hundreds."""
    assert [round_runs(value) for value in (0.2, 7.0, 99.5, 101.0, 328.4, 2001.0)] == [
        1, 7, 100, 110, 330, 2100,
    ]  # fmt: skip
