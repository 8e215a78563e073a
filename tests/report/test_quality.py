"""The log's own quality: counts, groups, and what is left out of long lists."""

from __future__ import annotations

from dataclasses import replace
from types import ModuleType

import pytest

from weakstep.report.quality import quality
from weakstep.reviewing import Review


def test_counts_agree_with_the_log(review: Review) -> None:
    """The lead says how many rows were read, used and set aside."""
    log = review.log
    lead = quality(review).lead.replace("\u202f", "")
    assert lead.startswith(f"{log.rows_read} rows read, {len(log.chips)} used; 1 was set aside.")
    assert "3 problems and 1 note found; 3 cells were read with care." in lead


def test_problems_are_grouped_by_kind(review: Review) -> None:
    """Two problems of one kind are one row with their count and the first place."""
    groups = quality(review).groups
    assert groups is not None
    kinds = {row[0]: row for row in groups.rows}
    column = next(p.column for p in review.log.problems if p.code == "not_a_number")
    assert kinds["not a number"][1] == "2"
    assert kinds["not a number"][3] == f"bench_a.csv, line 31, {column}"


@pytest.mark.parametrize("length", [100, 101])
def test_long_lists_say_what_they_leave_out(review: Review, length: int) -> None:
    """Beyond 100 entries the rest stands in a file, and the page says so."""
    care = tuple(replace(review.log.care[0], line=place) for place in range(length))
    found = quality(replace(review, log=replace(review.log, care=care))).care
    assert found is not None
    assert len(found.rows) == 100
    assert ("tables/cells_read_with_care.csv" in found.note) == (length > 100)


def test_a_clean_log_has_nothing_to_list(invented: ModuleType) -> None:
    """Without problems there is no table of them."""
    clean = quality(invented.bare_reviews()["no runs"])
    assert clean.lead.startswith("No rows read")
    assert clean.groups is None
    assert clean.set_aside is None


def test_headers_that_fit_nothing_are_named(review: Review) -> None:
    """A column that was left alone is told."""
    assert quality(review).unmatched == "“leaked a bit?” fits no parameter and was left alone."
