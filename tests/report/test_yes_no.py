"""A yes/no parameter on the page: shares and words, never 0.00 and 1.00."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from weakstep import load_process, read_log, review
from weakstep.charting import NO_LIMITS
from weakstep.drift.model import Drift
from weakstep.report.blocks import Block, blocks
from weakstep.report.drift_sentences import drift
from weakstep.report.names import Names
from weakstep.report.page import page
from weakstep.reviewing import Review

RUNS, YES = 90, 30


@pytest.fixture(scope="module")
def touched_review(tmp_path_factory: pytest.TempPathFactory) -> Review:
    """Review 90 runs of two chips, of which every third run was touched and mostly failed."""
    rng = np.random.default_rng(5)
    rows = ["run_id,operator,touched,delay_s,outcome"]
    for run in range(RUNS):
        touched = run % 3 == 0
        for _ in range(2):
            outcome = "no_bond" if rng.random() < (0.7 if touched else 0.1) else "good"
            said = "yes" if touched else "no"
            rows.append(f"R{run:03d},{'AB'[run % 2]},{said},{40 + run % 7},{outcome}")
    file: Path = tmp_path_factory.mktemp("log") / "log.csv"
    file.write_text("\n".join(rows), encoding="utf-8")
    return review(read_log(file, load_process()), permutations=199)


@pytest.fixture(scope="module")
def block(touched_review: Review) -> Block:
    """Return what the page says of it."""
    return next(one for one in blocks(touched_review) if one.column == "touched")


def test_the_block_says_yes_and_no(block: Block, spoken) -> None:  # type: ignore[no-untyped-def]
    """How often yes, what each goes with, and no number for either word."""
    said = spoken(" ".join([*block.text, *(plot.see for plot in block.plots)]))
    assert "Yes in 30 runs of 90 (33 %); logged in every run." in said
    assert NO_LIMITS in said
    assert "with no to" in said
    assert "Median" not in said
    assert "0.00" not in said


def test_the_figures_have_words_on_their_axes(block: Block) -> None:
    """Run by run and against failure; a limit on yes and no says nothing and is not drawn."""
    in_time, against = block.plots
    assert [text for _, text in in_time.y.ticks] == ["no", "yes"]
    assert [text for _, text in against.y.ticks] == ["no", "yes"]
    assert against.y.rows
    assert against.table is not None
    assert [row[0] for row in against.table.rows] == ["no", "yes"]


def test_failures_are_counted_by_yes_and_no(block: Block, touched_review: Review) -> None:
    """As for a category."""
    runs = touched_review.log.runs
    yes = runs.numbers["touched"].to_numpy() == 1.0
    failed = runs.failed["bond"]
    assert block.table is not None
    assert [row[:4] for row in block.table.rows] == [
        ("no", str(RUNS - YES), str(2 * (RUNS - YES)), str(int(failed[~yes].sum()))),
        ("yes", str(YES), str(2 * YES), str(int(failed[yes].sum()))),
    ]


def test_it_has_no_control_chart(touched_review: Review) -> None:
    """Three sigma about a share of single runs mean nothing, so nothing signals."""
    assert "touched" not in touched_review.charts
    assert touched_review.not_charted["touched"] == NO_LIMITS
    assert "delay_s" in touched_review.charts


def test_partly_and_not_logged(touched_review: Review, spoken) -> None:  # type: ignore[no-untyped-def]
    """A run whose chips differ, and runs that did not say."""
    log = touched_review.log
    numbers = log.runs.numbers.copy()
    numbers.loc[0, "touched"] = 0.5
    numbers.loc[[1, 2], "touched"] = np.nan
    other = replace(log, runs=replace(log.runs, numbers=numbers))
    told = next(one for one in blocks(replace(touched_review, log=other)) if one.table)
    assert (
        spoken(told.text[0])
        == "Yes in 29 runs of 88 (33 %), for some chips only in 1 run; not logged in 2 runs."
    )
    assert [row[:2] for row in told.table.rows] == [
        ("both", "1"), ("no", "58"), ("yes", "29"), ("not logged", "2"),
    ]  # fmt: skip


def test_a_drift_is_told_in_shares(touched_review: Review, spoken) -> None:  # type: ignore[no-untyped-def]
    """From a tenth to seven tenths."""
    log = touched_review.log
    moved = Drift("touched", "step", 40, (40, 40), 0.1, 0.7, 0.001, "strong")
    said = drift(Names(log.process), log.runs, moved)
    assert spoken(said) == "Bond face touched rose at once from 10 % yes to 70 % yes, since " \
        "about run R040."  # fmt: skip


def test_the_whole_page_holds_it(touched_review: Review) -> None:
    """It draws, zoomed and still, and the verdict speaks of yes."""
    text = page(touched_review)
    assert "are linked to a yes (strong evidence" in text.replace("\u00a0", " ")
    assert 'data-zoom="time-touched"' in text
