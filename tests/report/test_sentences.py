"""Sentences of the page, for none, one and many."""

from __future__ import annotations

from dataclasses import dataclass, replace
from types import ModuleType

import numpy as np
import pytest

from weakstep.drift.model import Change, Drift, DriftScreen, Together
from weakstep.failures.model import SensitivityLine, Tally
from weakstep.interval import Interval
from weakstep.process.load import load_process
from weakstep.report import drift_sentences, sentences
from weakstep.report.names import Names
from weakstep.report.page import page
from weakstep.reviewing import Review


def spoken(text: str) -> str:
    """Return text with plain spaces, for comparing."""
    return text.replace("\u00a0", " ").replace("\u202f", " ")


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
def test_outcome(review: Review, tested: int, failed: int, untested: int, said: str) -> None:
    """The failure rate is said with its count, picture and interval."""
    assert spoken(sentences.outcome(with_tally(review, tested, failed, untested))) == said


def drift(**changes: object) -> Drift:
    """Return a step of the oven temperature, with changes."""
    base = Drift("cure_c", "step", 66, (64, 69), 75.0, 79.0, 0.001, "strong", (), False, ())
    return replace(base, **changes)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (
            {"since_interval": (66, 66)},
            "Oven temperature rose at once from 75 °C to 79 °C, since about run P067 on",
        ),
        ({"before": 79.0, "after": 75.0}, "Oven temperature fell at once from 79 °C to 75 °C"),
        (
            {"form": "ramp"},
            "Oven temperature rose bit by bit from 75 °C to 79 °C at the end of the log",
        ),
        (
            {"form": "spread"},
            "The spread of oven temperature grew from 75 °C to 79 °C (standard deviation)",
        ),
        (
            {"form": "outliers"},
            "far from the rest (79 °C against a usual 75 °C), the clearest being run P067",
        ),
        (
            {"other_forms": ("ramp", "spread")},
            "A slow ramp or a change of spread would fit about as well.",
        ),
        ({"explained_by_operator": True}, "it may be who ran them."),
        ({"since_interval": (1, 100)}, "this log cannot tell well since when (between run P002"),
        (
            {"form": "cycle", "cycle_lengths": (45, 45)},
            "follows its service rhythm of 45 runs between services; that is wear, not drift.",
        ),
        (
            {"form": "cycle", "cycle_lengths": (9, 18)},
            "follows its service rhythm of 9 to 18 runs between services",
        ),
        (
            {"form": "cycle"},
            "Oven temperature counts up with use; that is wear, not drift.",
        ),
    ],
)
def test_drift(review: Review, changes: dict[str, object], said: str) -> None:
    """Each form of drift is said in its own words."""
    runs = review.log.runs
    assert said in spoken(drift_sentences.drift(Names(review.log.process), runs, drift(**changes)))


def screen(moved: int, some: int, cycles: int, steady: int, few: int) -> DriftScreen:
    """Return a screen with so many of each."""
    found = (
        *(drift() for _ in range(moved)),
        *(drift(evidence="some") for _ in range(some)),
        *(drift(form="cycle", evidence="none") for _ in range(cycles)),
    )
    stable = tuple((f"s{place}", 0.5) for place in range(steady))
    return DriftScreen(found, stable, tuple((f"t{n}", "few") for n in range(few)), 0.045, "")


@pytest.mark.parametrize(
    ("counts", "said"),
    [
        ((0, 0, 0, 0, 0), "No parameters moved and none held steady."),
        ((1, 0, 0, 1, 0), "1 parameter moved and 1 held steady."),
        (
            (2, 1, 1, 5, 1),
            "2 parameters moved, 1 may have moved, 1 wear counter was not tested, "
            "5 held steady and 1 could not be judged.",
        ),
        (
            (0, 0, 2, 5, 0),
            "No parameters moved, 2 wear counters were not tested and 5 held steady.",
        ),
    ],
)
def test_moved(counts: tuple[int, int, int, int, int], said: str) -> None:
    """How many moved is grammatical for none, one and many."""
    assert drift_sentences.moved(screen(*counts)) == said


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


def test_several_changes_are_told_in_order(review: Review) -> None:
    """A parameter that changed more than once has every level and start in its sentence."""
    changes = (Change(20, (18, 22), 75.0, 79.0), Change(66, (64, 69), 79.0, 74.0))
    found = Drift("cure_c", "step", 66, (64, 69), 79.0, 74.0, 0.001, "strong", changes=changes)
    names, runs = Names(review.log.process), review.log.runs
    said = spoken(drift_sentences.drift(names, runs, found))
    first, second = (spoken(drift_sentences.run_words(runs, place)) for place in (20, 66))
    assert said == (
        f"Oven temperature changed twice: from 75 °C to 79 °C about {first} then to 74 °C "
        f"about {second}."
    )


def test_what_moved_together_is_one_cause(review: Review) -> None:
    """Parameters that moved at the same time share a sentence; one start needs no range."""
    names, runs = Names(review.log.process), review.log.runs
    said = drift_sentences.together(names, runs, review.drifts.together)
    assert [spoken(text) for text in said] == [
        "Oven temperature and pump-down time moved at the same time, between "
        f"{spoken(drift_sentences.run_words(runs, 64))} and "
        f"{spoken(drift_sentences.run_words(runs, 69))}: "
        "look for one cause."
    ]
    at_once = drift_sentences.together(names, runs, (Together(("cure_c", "rh_pct"), (64, 64)),))
    assert f"time, about {drift_sentences.run_words(runs, 64)}: look" in at_once[0]
    assert drift_sentences.together(names, runs, ()) == ()


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


@dataclass(frozen=True)
class Event:
    """Something that happened near a drift, with what the page reads of it."""

    column: str
    what: str
    run: int
    runs_away: int


@dataclass(frozen=True)
class Shifted:
    """A change in expected failures, with what the page reads of it."""

    family: str
    failures: Interval
    chips: int


def test_what_happened_near_a_drift(review: Review) -> None:
    """Services and new values are named with their run, nearest first; far ones are left out."""
    names, runs = Names(review.log.process), review.log.runs
    events = [Event("oil_hours", "service", 64, -2), Event("mould_id", "M3", 70, 4)]
    drift = next(item for item in review.drifts.drifts if item.column == "cure_c")
    far = Event("mould_id", "M2", 90, 24)
    said = spoken(drift_sentences.near(names, runs, drift, [*events, far]))
    assert said.startswith("Near its start, worth checking, not proven: service (pump hours since")
    assert f"from {spoken(drift_sentences.run_words(runs, 64))} and mould M3 from run P071" in said
    assert "M2" not in said
    assert drift_sentences.near(names, runs, drift, [events[0]]).count(" from ") == 1
    assert drift_sentences.near(names, runs, drift, []) == ""


@pytest.mark.parametrize(
    ("estimate", "ends", "said"),
    [
        (6.2, (-1.0, 14.0), "about 6 more bond failures among 120 chips since then (range -1.0 to"),
        (
            -3.4,
            (-8.0, 1.2),
            "about 3 fewer bond failures among 120 chips since then (range -1.2 to",
        ),
        (0.4, (0.1, 0.9), "about 0.4 more bond failures among 120 chips since then (range 0.1 to"),
    ],
)
def test_what_goes_with_a_drift(
    review: Review, estimate: float, ends: tuple[float, float], said: str
) -> None:
    """More failures or fewer, the range said in the same direction as the estimate."""
    found = [Shifted("bond", Interval(estimate, *ends, 0.9), 120)]
    text = drift_sentences.consequence(Names(review.log.process), found)
    assert spoken(text).replace("\u2212", "-").startswith(f"What goes with it: {said}")
    assert drift_sentences.consequence(Names(review.log.process), []) == ""


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
