"""Tables of groups, places, steps and suspicions."""

from __future__ import annotations

from dataclasses import replace

from weakstep.report.blocks import blocks
from weakstep.report.contents import contents
from weakstep.report.names import Names
from weakstep.report.tallies import evened_out, places, step_yields, suspected
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
        ("plasma", "strong; no evidence", "–"),
        ("contact", "some; strong evidence", "weak"),
    )
    assert suspected(Names(review.log.process), ()) is None
