"""A category that failures are linked to: what to avoid is said; nothing is to be tightened."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from weakstep import load_process, read_log, review
from weakstep.report.blocks import blocks
from weakstep.report.by_value import by_value
from weakstep.report.contents import contents
from weakstep.report.names import Names
from weakstep.report.page import page
from weakstep.report.summary import summary
from weakstep.reviewing import Review


@pytest.fixture(scope="module")
def bad_mould(tmp_path_factory: pytest.TempPathFactory) -> Review:
    """Review 90 runs of two chips in three moulds, of which M3 mostly fails."""
    rng = np.random.default_rng(6)
    rows = ["run_id,mould_id,delay_s,outcome"]
    for run in range(90):
        mould = f"M{run % 3 + 1}"
        for _ in range(2):
            outcome = "no_bond" if rng.random() < (0.7 if mould == "M3" else 0.1) else "good"
            rows.append(f"R{run:03d},{mould},{40 + run % 7},{outcome}")
    file: Path = tmp_path_factory.mktemp("log") / "log.csv"
    file.write_text("\n".join(rows), encoding="utf-8")
    return review(read_log(file, load_process()), permutations=199)


def test_heading_sentence_and_next_step_advise_the_same(bad_mould: Review) -> None:
    """Look into it; avoid M3; give each its turn."""
    said = contents(bad_mould)
    assert bad_mould.failures.verdict.action == "tighten"
    assert said["action"] == "look into it"
    assert bad_mould.failures.verdict.sentence.startswith("Look into the mould first")
    assert said["suggested"]["saving"].startswith("Without M3, ")
    assert said["suggested"]["window"] == ""
    assert said["trial"]["sentence"].startswith("Give each mould its turn on the same days")
    for text in (page(bad_mould, zoom=False), summary(said, bad_mould)):
        assert "Give each mould its turn" in text
        assert "No trial is proposed" not in text


def test_its_block_tells_the_gain_and_no_drift(bad_mould: Review) -> None:
    """A mould has no level that could move; what it gains to avoid one is said."""
    block = next(one for one in blocks(bad_mould) if one.column == "mould_id")
    assert block.status == "strongly linked to failures"
    assert any(text.startswith("Without M3, ") for text in block.text)
    assert block.step == ""
    assert block.table is not None
    assert [row[0] for row in block.table.rows] == ["M1", "M2", "M3"]


def test_values_are_ordered_as_people_count(bad_mould: Review) -> None:
    """P2 stands before P10, words among words, and runs that did not log it last."""
    endless = "P" + "9" * 5000  # more digits than python takes for a number
    found = ["P10", "", "P2", "old", "P1", endless, "P02"]
    values = np.resize(np.array(found), len(bad_mould.log.runs))
    table = by_value(bad_mould, Names(bad_mould.log.process), "punch_id", values)
    said = ["P1", "P02", "P2", "P10", endless, "old", "not logged"]
    assert [row[0] for row in table.rows] == said
    assert sum(int(row[1]) for row in table.rows) == len(bad_mould.log.runs)
