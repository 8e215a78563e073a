"""Tables of groups, places, steps and suspicions."""

from __future__ import annotations

from dataclasses import replace

import pytest

from weakstep.failures.further_model import Interaction, MeasuredLink, MeasuredOutcome
from weakstep.failures.model import Evidence
from weakstep.report.blocks import blocks
from weakstep.report.contents import contents
from weakstep.report.names import Names
from weakstep.report.tallies import evened_out, measured, pairs, places, step_yields, suspected
from weakstep.reviewing import Review


def test_groups_show_the_share_to_compare_by(review: Review) -> None:
    """Operators and moulds stand with the share that the other groups have helped to."""
    tally = review.failures.tally
    evened = evened_out(tally, "mould_id")
    assert list(evened) == ["M1", "M2", "M3"]
    mould = replace(
        review.failures.factors[-1], column="mould_id", step="", curve=None, tightening=()
    )
    with_mould = replace(review, failures=replace(review.failures, factors=(mould,)))
    block = next(block for block in blocks(with_mould) if block.column == "mould_id")
    assert block.table is not None
    assert block.table.head[-1] == "evened out"
    assert [row[-1] for row in block.table.rows] == list(evened.values())
    who = contents(review)["who"].table
    assert {row[0]: row[5] for row in who.rows}["AB"] == evened_out(tally, "operator")["AB"]


def test_places_and_steps(review: Review) -> None:
    """Places keep their order and interval; steps show what was lost, and the yield so far."""
    names, tally = Names(review.log.process), review.failures.tally
    found = places(names, tally)
    assert found is not None
    assert [row[:2] for row in found.rows] == [("corner", "7"), ("port", "3")]
    assert found.rows[0][2].replace("\u00a0", " ") == "70 % (40 to 90 %)"
    yields = step_yields(names, tally)
    assert yields is not None
    assert [(row[0], row[1], row[3].replace("\u00a0", " ")) for row in yields.rows] == [
        ("plasma", "6.5", "98 %"),
        ("contact", "9.0", "95 %"),
    ]
    bare = replace(tally, places=(), steps=())
    assert places(names, bare) is None
    assert step_yields(names, bare) is None


def test_suspicion_stands_beside_evidence(review: Review) -> None:
    """Each cell says what is suspected and what the log says; steps with neither are left out."""
    found = suspected(Names(review.log.process), review.failures.suspicions)
    assert found is not None
    assert found.head == ("step", "leak", "tear at the port")
    assert found.rows == (
        ("plasma", "strong; no sign", "–"),
        ("contact", "some; strong evidence: delay from plasma to contact", "weak"),
        ("cure", "weak; too few to ask", "–"),
    )
    assert suspected(Names(review.log.process), ()) is None


@pytest.mark.parametrize(
    ("evidence", "said"),
    [
        ((), ()),
        (("none",), ("1 pair of parameters that the description lists as plausibly acting together "
                     "was tried; no evidence that it does.",)),
        (("strong", "none", "none"), ("A and B act together.", "2 further pairs of parameters that "
                     "the description lists as plausibly acting together were tried; no evidence "
                     "that they do.",)),
    ],
)  # fmt: skip
def test_pairs_for_none_one_and_many(evidence: tuple[Evidence, ...], said: tuple[str, ...]) -> None:
    """Pairs with evidence keep their sentence; the others are counted."""
    words = "A and B act together"
    found = [Interaction("bond", ("a", "b"), 0.5, kind, words) for kind in evidence]
    assert pairs(found) == said


def test_measured_outcome(review: Review) -> None:
    """A measured outcome says how many failed, held, and by where half failed; links in a table."""
    links = (MeasuredLink("delay_s", "contact", 0.004, "strong", "rises above 60 s"),)
    outcome = MeasuredOutcome("vacuum_kpa", 30, 12, 8.25, 2.0, 9.5, links)
    names = Names(review.log.process)
    lead, table = measured(names, outcome)
    assert lead.replace("\u00a0", " ") == (
        "Absolute pressure while degassing: 42 chips were measured, half of them below 8.2 kPa; "
        "12 held to the value written or failed elsewhere."
    )
    assert table.rows == (
        ("delay from plasma to contact", "contact", "rises above 60 s", "0.004", "strong evidence"),
    )
    lead, _ = measured(names, replace(outcome, failed=1, held=0, median=None))
    assert lead.endswith("1 chip was measured, more than half held to the largest value.")
