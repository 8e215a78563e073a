"""The map of places on the item."""

from __future__ import annotations

import re
from dataclasses import replace

from weakstep.failures.model import PlaceCount
from weakstep.failures.wilson import wilson
from weakstep.report.names import Names
from weakstep.report.page import page
from weakstep.report.places_map import places_map
from weakstep.reviewing import Review


def placed(review: Review, *counts: tuple[str, int, int | None, int | None]) -> Review:
    """Return the review with these places."""
    total = sum(one[1] for one in counts)
    places = tuple(
        PlaceCount(words, number, row, column, wilson(number, total))
        for words, number, row, column in counts
    )
    tally = replace(review.failures.tally, places=places)
    return replace(review, failures=replace(review.failures, tally=tally))


def test_cells_add_up_and_shade_with_the_count(review: Review) -> None:
    """Two writings of one cell are added; a cell without failures is not filled."""
    shown = placed(
        review, ("top left", 3, 0, 0), ("left, upper", 1, 0, 0), ("port", 2, None, None),
        ("centre", 2, 1, 1),
    )  # fmt: skip
    found = places_map(Names(shown.log.process), shown.failures.tally)
    assert found is not None
    assert [cell.count for cell in found.cells] == [4, 0, 0, 0, 2, 0, 0, 0, 0]
    assert found.cells[0].shade > found.cells[4].shade > found.cells[1].shade == 0.0
    assert found.words == "6 failed chips by place: top left 4 and centre 2."
    assert found.elsewhere == "Not on the map: port 2."


def test_page_carries_the_map_with_its_words(review: Review) -> None:
    """The drawing has an accessible name that says every count; the table is folded away."""
    shown = placed(review, ("bottom right", 5, 2, 2))
    text = page(shown, zoom=False)
    drawing = re.search(r'<svg class="places".*?</svg>', text, re.DOTALL)
    assert drawing is not None
    assert 'aria-label="5 failed chips by place: bottom right 5."' in drawing[0]
    assert drawing[0].count("<rect") == 9
    assert "Places as written, with intervals" in text


def test_places_without_a_cell_make_no_map(review: Review) -> None:
    """Only the table is left; without any place there is nothing."""
    shown = placed(review, ("whole face", 2, None, None))
    found = places_map(Names(shown.log.process), shown.failures.tally)
    assert found is not None
    assert found.cells == ()
    text = page(shown, zoom=False)
    assert 'class="places"' not in text
    assert "Places as written" not in text
    assert "whole face" in text
    bare = placed(review)
    assert places_map(Names(bare.log.process), bare.failures.tally) is None
