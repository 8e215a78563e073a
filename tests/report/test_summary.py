"""The Markdown summary: what the page says first, and nothing alive from a cell."""

from __future__ import annotations

import re
from dataclasses import replace
from types import ModuleType

import pytest

from weakstep.failures.model import MeasuredLink, MeasuredOutcome
from weakstep.report.contents import contents
from weakstep.report.summary import inert, summary
from weakstep.reviewing import Review


def test_says_what_the_page_says_first(review: Review) -> None:
    """Title, verdict, outcome, claimed factors, drifts, trial, cautions and files are there."""
    text = summary(contents(review, title="Spring term"), review).replace("\u00a0", " ")
    assert text.startswith("# Spring term\n")
    assert inert(review.failures.verdict.sentence) in text
    rows = re.findall(r"^\| (.+?) \|.*\|$", text, flags=re.MULTILINE)
    assert rows == ["parameter", "delay from plasma to contact", "pressing time", "plasma time"]
    assert "Oven temperature rose at once" in text
    assert "Local rules and trained staff decide." in text
    assert all(item.sha256 in text for item in review.log.inputs)


def test_hostile_text_stays_text(invented: ModuleType) -> None:
    """Marks of Markdown and HTML from a cell are escaped, and a line break does not end a line."""
    hostile = "`<img src=x>` [a](javascript:b) |\n# c"
    built = invented.build_review(text=hostile)
    text = summary(contents(built), built)
    assert "img src=x" in text
    assert not re.search(r"(?<!\\)[<\[`]", text)
    assert not re.search(r"^# c", text, flags=re.MULTILINE)


def test_measured_outcomes_are_told(invented: ModuleType) -> None:
    """Where no failures could be ranked but a measured value could, the verdict is borne out."""
    links = (
        MeasuredLink("delay_s", "contact", 0.002, "strong", "rises"),
        MeasuredLink("press_s", "contact", 0.6, "none", "falls"),
    )
    outcome = MeasuredOutcome("burst_kpa", 30, 12, 8.25, 2.0, 9.5, links)
    bare = invented.bare_reviews()["no factors"]
    built = replace(bare, failures=replace(bare.failures, measured=(outcome,)))
    text = summary(contents(built), built)
    assert "Nothing could be ranked" not in text
    assert "| delay from plasma to contact | contact | rises | 0.002 | strong evidence |" in text
    assert "| pressing time |" not in text


@pytest.mark.parametrize(
    "name",
    ["no failures", "all failed", "no dates", "one run", "no factors", "no drift", "no runs"],
)
def test_bare_reviews_give_a_summary(invented: ModuleType, name: str) -> None:
    """A review with little in it gives whole sentences and no word of the program's own."""
    built = invented.bare_reviews()[name]
    text = summary(contents(built), built)
    assert "## What moved, and since when" in text
    assert not re.search(r"\bnan\b|\bNaT\b|\bNone\b|\n\n\n", text)
