"""Sentences of the page, for none, one and many."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import ModuleType

import numpy as np
import pytest

from weakstep.failures.model import SensitivityLine, Tally, Verdict, Window
from weakstep.interval import Interval
from weakstep.process.load import load_process
from weakstep.report import sentences
from weakstep.report.contents import contents
from weakstep.report.names import Names
from weakstep.report.page import page
from weakstep.reviewing import Review

Spoken = Callable[[str], str]


def with_tally(review: Review, tested: int, failed: int, untested: int) -> Review:
    """Return the review with other counts."""
    share = failed / tested if tested else 0.0
    rate = Interval(share, max(0.0, share - 0.1), min(1.0, share + 0.1), 0.95) if tested else None
    tally = Tally(tested, failed, untested, rate, (), {})
    return replace(review, failures=replace(review.failures, tally=tally))


@pytest.mark.parametrize(
    ("tested", "failed", "untested", "said"),
    [
        (0, 0, 3, "No chip in this log has a known outcome, so no failure rate can be given."),
        (1, 0, 0, "One chip was tested; it held: 0 % (95 % interval: 0 to 10 %)."),
        (1, 1, 0, "One chip was tested; it failed: 100 % (95 % interval: 90 to 100 %)."),
        (
            291,
            52,
            0,
            "Of 291 tested chips, 52 failed: about 1 in 6, 18 % (95 % interval: 8 to 28 %).",
        ),
        (
            10,
            5,
            1,
            "Of 10 tested chips, 5 failed: about 1 in 2, 50 % (95 % interval: 40 to 60 %). "
            "One more chip has no known outcome and is not counted.",
        ),
        (
            10,
            5,
            2,
            "Of 10 tested chips, 5 failed: about 1 in 2, 50 % (95 % interval: 40 to 60 %). "
            "Another 2 chips have no known outcome and are not counted.",
        ),
    ],
)
def test_outcome(
    review: Review, tested: int, failed: int, untested: int, said: str, spoken: Spoken
) -> None:
    """The failure rate is said with its count, picture and interval."""
    assert spoken(sentences.outcome(with_tally(review, tested, failed, untested))) == said


def test_saving_is_per_month_with_dates_and_per_hundred_without(invented: ModuleType) -> None:
    """Months come from the log's own dates; without them the saving is per 100 chips."""
    dated, undated = invented.build_review(), invented.build_review(dated=False)
    assert "chips a month" in sentences.saving(dated, dated.failures.factors[0])
    said = sentences.saving(undated, undated.failures.factors[0])
    assert "in every 100 tested chips" in said
    failed = int(np.sum(undated.log.runs.failed["bond"]))
    per_hundred = 0.35 * 100 * failed / undated.failures.tally.tested
    assert f"about {per_hundred:.0f} chips" in said


def test_period_needs_a_date(invented: ModuleType) -> None:
    """A log without dates has no period."""
    assert sentences.period(invented.build_review(dated=False).log.runs) == ""


@pytest.mark.parametrize("kind", ["strong", "calendar", "some", "none"])
def test_every_level_of_evidence_has_words(kind: str) -> None:
    """No level claims a cause."""
    said = sentences.evidence(kind, 0.04)  # type: ignore[arg-type]
    assert "evidence" in said.lower()
    assert said.endswith(".")
    assert "caus" not in said


@pytest.mark.parametrize(
    ("kept", "said"),
    [
        ((), ""),
        ((True,), "stays first in the one other version of this log:"),
        ((False,), "does not stay first in the one other version of this log:"),
        ((False, False), "does not stay first in any of 2 other versions of this log:"),
        ((True, True), "stays first in all 2 other versions of this log:"),
        ((True, False, True), "stays first in 2 of 3 other versions of this log:"),
    ],
)
def test_how_firm_the_first_place_is(review: Review, kept: tuple[bool, ...], said: str) -> None:
    """The versions of the log in which the first factor stays first are counted."""
    lines = tuple(SensitivityLine("q", "delay_s", still, None, "q: x.") for still in kept)
    unclear = SensitivityLine("q", None, False, None, "q: too little is left.")
    analysis = replace(review.failures, sensitivity=(*lines, unclear))
    found = sentences.firmness(Names(review.log.process), analysis)
    assert found == (f"Delay from plasma to contact {said}" if said else "")
    alone = sentences.firmness(
        Names(review.log.process), replace(analysis, factors=analysis.factors[:1])
    )
    assert alone == found.replace("stays first", "stays linked").replace(
        "stay first", "stay linked"
    )


@pytest.mark.parametrize(
    ("column", "surprising", "said"),
    [
        ("delay_s", False, ""),
        ("delay_s", True, "expects failures when it is high, and this log shows the opposite"),
        ("degas_min", True, "expects failures when it is low, and this log shows the opposite"),
        ("touched", True, "expects failures with it, and this log shows the opposite"),
    ],
)
def test_surprises_are_told(review: Review, column: str, surprising: bool, said: str) -> None:
    """A link against the description is shown, with what to rule out first."""
    factor = replace(review.failures.factors[0], column=column, surprising=surprising)
    found = sentences.surprise(Names(load_process()), factor)
    assert said in found
    assert bool(found) == surprising
    weak = sentences.surprise(Names(load_process()), replace(factor, evidence="some"))
    assert weak == found.replace("log shows", "log hints at")


def test_no_advice_against_the_window(review: Review) -> None:
    """What the description advises would move a surprising factor out of its window."""
    names = Names(load_process())
    factor = replace(review.failures.factors[0], column="delay_s")
    assert sentences.holding(names, factor).startswith("Lay out everything before the glow")
    assert sentences.holding(names, replace(factor, surprising=True)) == ""


def test_weaker_evidence_warns_of_what_was_not_logged(review: Review) -> None:
    """Once a factor is 'some' or 'calendar'; strong and acquitted ones need no warning."""
    analysis = review.failures
    kinds = {factor.evidence for factor in analysis.factors}
    assert kinds & {"some", "calendar"}
    assert "a cause that nobody logged" in sentences.unlogged_cause(analysis)
    sure = tuple(one for one in analysis.factors if one.evidence in ("strong", "none"))
    assert sentences.unlogged_cause(replace(analysis, factors=sure)) == ""


def test_operators_are_habits(review: Review) -> None:
    """The page says so beside what each operator's runs became."""
    assert "a difference between habits until shown otherwise" in page(review, zoom=False)


@pytest.mark.parametrize(
    ("action", "window", "said"),
    [
        ("tighten", Window(None, 45.0, "s"), "tighten"),
        ("tighten", None, "look into it"),
        ("look_closer", Window(None, 45.0, "s"), "look closer before changing anything"),
        ("log_more", None, "nothing to tighten yet"),
    ],
)
def test_one_advice_in_heading_and_sentence(action: str, window: Window | None, said: str) -> None:
    """Nothing is called to be tightened that has no window."""
    verdict = Verdict(action, "bond", "", "x", window, "")  # type: ignore[arg-type]
    assert sentences.action(verdict, None) == said


def test_a_surprise_is_to_be_checked_before_it_is_tightened(review: Review) -> None:
    """The heading of a link against expectation does not say tighten."""
    found = review.failures
    assert sentences.action(found.verdict, found.factors[0]) == "tighten"
    against = replace(found.factors[0], surprising=True)
    assert sentences.action(found.verdict, against) == "check first"


@pytest.mark.parametrize(
    ("column", "said"),
    [
        (None, "No trial is proposed from this log."),
        ("mould_id", "Give each mould its turn on the same days, in random order and with"),
        ("plasma_dose_j", "Plasma dose is computed from other columns: vary one of those"),
        ("oil_hours", "Do the service behind pump hours since the oil was changed at other times"),
        ("rh_pct", "Relative humidity cannot be set for a run: see that high and low values"),
        ("cure_c", "The command 'weakstep trial' with '--vary cure_c' plans it."),
    ],
)
def test_what_a_verdict_without_a_trial_leaves_to_do(column: str | None, said: str) -> None:
    """It never says that there is nothing to try where the verdict asks to vary something."""
    verdict = Verdict("look_closer", "bond", "", column, None, "")
    assert said in sentences.next_step(Names(load_process()), verdict)


def test_a_measured_outcome_needs_no_parameter_named() -> None:
    """A verdict without a family rests on it, and the trial asks it again by itself."""
    verdict = Verdict("look_closer", None, "contact", "delay_s", None, "")
    assert "The command 'weakstep trial' plans it." in sentences.next_step(
        Names(load_process()), verdict
    )


def test_the_gain_of_a_category_names_its_level(review: Review, spoken: Spoken) -> None:
    """There is no window to hold; what is avoided is said instead."""
    factor = replace(review.failures.factors[0], window=None, level="without M3")
    said = spoken(sentences.saving(review, factor))
    assert said.startswith(
        "Without M3, 35 % of the bond failures might not have happened (90 % interval: 10 to 55 %):"
    )


def test_the_gain_of_a_link_tied_to_the_calendar_is_not_promised(review: Review) -> None:
    """It is told as unknown first."""
    first = replace(review.failures.factors[0], evidence="calendar")
    analysis = replace(review.failures, factors=(first, *review.failures.factors[1:]))
    suggested = contents(replace(review, failures=analysis))["suggested"]
    assert suggested["saving"].startswith("Not known before it is varied on purpose. It could")


def test_notes_of_charts_speak_of_what_is_made() -> None:
    """Charts know only items; a page about chips says chips."""
    names = Names(load_process())
    assert names.in_items("Every item passed; items made together") == (
        "Every chip passed; chips made together"
    )
