"""What the page says of drifts: forms, counts, order, what happened near one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import pytest

from weakstep.drift.model import Change, Drift, DriftScreen, Together
from weakstep.interval import Interval
from weakstep.report import drift_sentences
from weakstep.report.names import Names
from weakstep.reviewing import Review

Spoken = Callable[[str], str]


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
def test_drift(review: Review, changes: dict[str, object], said: str, spoken: Spoken) -> None:
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
        ((0, 0, 0, 0, 16), "None of 16 parameters could be judged."),
        ((0, 0, 0, 0, 1), "The only parameter could not be judged."),
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


def test_several_changes_are_told_in_order(review: Review, spoken: Spoken) -> None:
    """A parameter that changed more than once has every level and start in its sentence."""
    changes = (Change(20, (18, 22), 75.0, 79.0), Change(66, (64, 69), 79.0, 74.0))
    found = Drift("cure_c", "step", 66, (64, 69), 79.0, 74.0, 0.001, "strong", changes=changes)
    names, runs = Names(review.log.process), review.log.runs
    said = spoken(drift_sentences.drift(names, runs, found))
    first, second = (spoken(drift_sentences.run_words(runs, place)) for place in (20, 66))
    assert said == (
        f"Oven temperature changed twice: from 75 °C to 79 °C about {first}, then to 74 °C "
        f"about {second}."
    )
    either = replace(found, other_forms=("ramp",))
    assert spoken(drift_sentences.drift(names, runs, either)) == (
        f"{said} A slow ramp would fit about as well."
    )


def test_what_moved_together_is_one_cause(review: Review, spoken: Spoken) -> None:
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


def test_what_happened_near_a_drift(review: Review, spoken: Spoken) -> None:
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
        (
            6.2,
            (-1.0, 14.0),
            "about 6 more bond failures among 120 chips since then (from 1.0 fewer to 14 more).",
        ),
        (
            -3.4,
            (-8.0, 1.2),
            "about 3 fewer bond failures among 120 chips since then (from 8 fewer to 1.2 more).",
        ),
        (
            -3.4,
            (-8.0, -1.2),
            "about 3 fewer bond failures among 120 chips since then (range 1.2 to 8).",
        ),
        (
            0.4,
            (0.1, 0.9),
            "about 0.4 more bond failures among 120 chips since then (range 0.1 to 0.9).",
        ),
    ],
)
def test_what_goes_with_a_drift(
    review: Review, estimate: float, ends: tuple[float, float], said: str, spoken: Spoken
) -> None:
    """More failures or fewer, and both words where the interval holds both."""
    found = [Shifted("bond", Interval(estimate, *ends, 0.9), 120)]
    names = Names(review.log.process)
    text = spoken(drift_sentences.consequence(names, drift(), found))
    assert text == f"What goes with it: {said}"
    several = drift(changes=(Change(20, (18, 22), 75.0, 79.0), Change(66, (64, 69), 79.0, 74.0)))
    text = spoken(drift_sentences.consequence(names, several, found))
    assert text == f"What goes with it: {said.replace('since then', 'since the first change')}"
    assert drift_sentences.consequence(names, drift(), []) == ""
