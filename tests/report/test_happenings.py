"""What happened along the log stands on the charts it concerns, in words too."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from weakstep.drift.nearby import Nearby
from weakstep.report.blocks import blocks
from weakstep.report.figure_html import still
from weakstep.report.figures.failures import failures_in_time
from weakstep.report.figures.happenings import MOST_LINES, Happening, happenings, lines, told
from weakstep.report.names import Names
from weakstep.report.plot import Mark, Plot, Rug
from weakstep.report.zoom import spec
from weakstep.reviewing import Review
from weakstep.semesters.model import Event


def chart(review: Review, column: str) -> Plot:
    """Return the chart in time of one parameter."""
    (mine,) = [block for block in blocks(review) if block.column == column]
    (plot,) = [plot for plot in mine.plots if plot.name == f"time-{column}"]
    return plot


def marks(plot: Plot) -> list[tuple[float, str]]:
    """Return place and legend entry of each upright line."""
    return [(layer.x, layer.name) for layer in plot.layers if isinstance(layer, Mark)]


@pytest.mark.parametrize("column", ["oil_hours", "pumpdown_s"])
def test_a_service_stands_on_every_chart_of_its_step(review: Review, column: str) -> None:
    """The counter's chart and that of another plasma parameter: a line a service, named once."""
    plot = chart(review, column)
    assert marks(plot) == [(45.5, "service (oil hours)"), (90.5, "")]
    assert plot.table is not None
    assert (
        "Upright lines: service (oil hours) from run P046 on 15\u00a0April 2026" in plot.table.note
    )
    assert "service (oil hours)" in still(plot)


def test_a_service_stays_off_other_steps(review: Review) -> None:
    """The mixing time has nothing to do with the pump's oil."""
    assert marks(chart(review, "mix_min")) == []


def test_changes_and_new_lots_look_different(review: Review) -> None:
    """A change of the lab and a lot that came near a drift: two entries, two colours, in words."""
    plot = chart(review, "cure_c")
    found = [layer for layer in plot.layers if isinstance(layer, Mark)]
    assert [(mark.x, mark.name, mark.tone) for mark in found] == [
        (60.5, "change made by the lab", "ink"),
        (68.5, "first use of kit lot K2", "fifth"),
    ]
    assert [mark.dashes for mark in found] == ["dashed", ""]
    assert plot.table is not None
    assert "new oven door from run P061" in plot.table.note
    flags = [
        trace for trace in spec(plot)["data"] if trace.get("name") in {mark.name for mark in found}
    ]
    pointed_at = [trace["hovertext"] for trace in flags]
    assert [texts[0].split(",")[0].split(" on ")[0] for texts in pointed_at] == [
        "new oven door: from run P061",
        "first use of kit lot K2: from run P069",
    ]


def test_what_names_no_parameter_stands_everywhere(review: Review) -> None:
    """A semester that begins concerns every chart."""
    begins = Event("autumn", "semester", 50, None)
    names = Names(review.log.process)
    with_it = replace(review, events=(begins,))
    assert all(
        Happening("semester", "autumn", 50) in happenings(with_it, names, str(column))
        for column in review.log.runs.numbers
    )


def test_nothing_is_worth_checking_where_all_is_new(review: Review) -> None:
    """Lots and operators that come first in the first runs of a log say nothing about a drift."""
    early = tuple(
        replace(drift, since=2, since_interval=(1, 4)) if drift.column == "cure_c" else drift
        for drift in review.drifts.drifts
    )
    new = replace(
        review,
        drifts=replace(review.drifts, drifts=early),
        worth_checking={"cure_c": (Nearby("kit_lot", "K2", 5, 3),)},
        events=(),
    )
    assert happenings(new, Names(review.log.process), "cure_c") == ()


def test_looks_differ_within_a_kind(review: Review) -> None:
    """Services of two counters differ in their dashes; colour alone says nothing."""
    happened = [Happening("service", "service (oil)", 4), Happening("service", "service (seal)", 9)]
    found = [layer for layer in lines(happened, review.log.runs) if isinstance(layer, Mark)]
    assert [mark.dashes for mark in found] == ["", "dashed"]


def test_a_fence_of_services_becomes_ticks(review: Review) -> None:
    """Too many services for lines stand along the top of a chart; words are cut and say so."""
    happened = [Happening("service", "service (oil)", run) for run in range(5, 6 + MOST_LINES)]
    (rug,) = lines(happened, review.log.runs)
    assert isinstance(rug, Rug)
    assert len(rug.x) == MOST_LINES + 1
    assert told(happened, review.log.runs).endswith("9 more lines.")


def test_after_the_last_run(review: Review) -> None:
    """A change that no run has seen yet is told as such."""
    happened = [Happening("change", "new door", len(review.log.runs))]
    assert told(happened, review.log.runs) == "Upright lines: new door after the last run."


def test_the_words_tell_the_lines_that_are_drawn(review: Review) -> None:
    """A change that came after the last week has no line on the chart of failures, and no words."""
    chart = review.failure_chart
    assert chart is not None
    last = np.datetime64(chart.labels[-1], "D")
    events = [
        Event("new oven", "change", len(review.log.runs) - 1, last),
        Event("new pump", "change", len(review.log.runs), last + np.timedelta64(30, "D")),
    ]
    plot = failures_in_time("chip", "chips", chart, events)
    assert [(layer.name, "new oven" in layer.hover) for layer in plot.layers
            if isinstance(layer, Mark)] == [("change made by the lab", True)]  # fmt: skip
    assert "new oven" in plot.see
    assert "new pump" not in plot.see
