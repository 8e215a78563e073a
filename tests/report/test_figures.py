"""Figures: what they hold, drawn twice over, by our own hand and by plotly."""

from __future__ import annotations

import base64
import gzip
import json
import re
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from types import ModuleType

import numpy as np
import pytest

from weakstep.drift.model import Change
from weakstep.failures.model import Factor, Window
from weakstep.failures.words import window_words
from weakstep.process.load import load_process
from weakstep.report import zoom
from weakstep.report.blocks import blocks
from weakstep.report.figure_html import still
from weakstep.report.figures.effect import against_failure, tightening
from weakstep.report.figures.failures import failures_in_time, modes
from weakstep.report.figures.in_time import drift_level, in_time, run_labels
from weakstep.report.figures.operators import who_ran
from weakstep.report.figures.ranking import ranking, steps
from weakstep.report.lettering import text_width
from weakstep.report.names import Names
from weakstep.report.plot import Axis, Line, Mark, Plot, Points, Span, Whiskers
from weakstep.report.svg import draw
from weakstep.reviewing import Review


def all_plots(review: Review) -> Iterator[Plot]:
    """Yield every figure of a review."""
    names, analysis = Names(review.log.process), review.failures
    bond = [factor for factor in analysis.factors if factor.family == "bond"]
    yield ranking(names, "bond", bond)
    yield steps(names, analysis.steps)
    yield modes(names, analysis.tally)
    assert review.failure_chart is not None
    yield failures_in_time("chip", "chips", review.failure_chart)
    for block in blocks(review):
        yield from block.plots


def first_factor(review: Review) -> Factor:
    """Return the factor the verdict names."""
    return review.failures.factors[0]


def test_plotly_accepts_every_figure(review: Review) -> None:
    """Plotly's own validation passes, and its figures carry the same data."""
    for plot in all_plots(review):
        made = zoom.figure(plot, run_labels(review.log.runs))
        marks = [layer for layer in plot.layers if isinstance(layer, Points)]
        for layer in marks:
            assert any(len(trace.y) == len(layer.y) for trace in made.data if trace.y is not None)
        for trace in made.data:
            if trace.hovertext is not None:
                assert len(trace.hovertext) == len(trace.y)
        assert made.layout.xaxis.type == ("log" if plot.x.log else "linear")


def test_every_figure_has_a_name_a_sentence_and_a_table(review: Review) -> None:
    """Each figure says what it is, what to see, and gives its numbers."""
    plots = list(all_plots(review))
    assert len({plot.name for plot in plots}) == len(plots)
    for plot in plots:
        assert plot.title
        assert plot.see.endswith(".")
        assert plot.table is not None
        assert all(len(row) == len(plot.table.head) for row in plot.table.rows)


@pytest.mark.parametrize(("width", "above"), [(860.0, False), (440.0, False), (360.0, True)])
def test_drawings_stay_inside_their_frame(review: Review, width: float, above: bool) -> None:
    """No text starts outside the frame, no mark is drawn outside it, and every number is finite."""
    for plot in all_plots(review):
        drawing = draw(plot, width, labels_above=above)
        for word in drawing.words:
            wide = text_width(word.text)
            start = word.x - {"start": 0.0, "middle": wide / 2, "end": wide}[word.anchor]
            assert start >= -2, word
            assert start + wide <= width + 12, word
            assert 0 <= word.y <= drawing.height
        for path in drawing.paths:
            assert "nan" not in path.d
            assert "inf" not in path.d
            start_points = re.findall(r"M(-?[\d.]+)[ -]", path.d)
            assert all(-1 <= float(x) <= width + 1 for x in start_points)


def test_tick_texts_do_not_overlap(review: Review) -> None:
    """Words below the axis leave room for each other."""
    shift = {"start": 0.0, "middle": 0.5}
    for plot in all_plots(review):
        ticks = [word for word in draw(plot, 440.0).words if word.classes == "tick"]
        for line in {word.y for word in ticks}:
            row = sorted(
                (word.x - wide * shift[word.anchor], wide)
                for word in ticks
                if word.y == line and word.anchor != "end"
                for wide in [text_width(word.text)]
            )
            assert all(a + wide <= b for (a, wide), (b, _) in pairwise(row))


def test_still_drawing_escapes_its_words() -> None:
    """A label with markup in it is text, not markup."""
    axis = Axis("<b>x</b>", 0.0, 1.0, [(0.5, "a&b")])
    plot = Plot("p", '"><script>', "", axis, Axis("", 0.0, 1.0, []), ())
    drawn = str(still(plot))
    assert "<script>" not in drawn
    assert "<b>" not in drawn
    assert "a&amp;b" in drawn


def test_ranking_keeps_every_parameter(review: Review) -> None:
    """Acquitted parameters are shown too, each with its own interval."""
    names = Names(review.log.process)
    bond = [factor for factor in review.failures.factors if factor.family == "bond"]
    plot = ranking(names, "bond", bond)
    shown = [layer for layer in plot.layers if isinstance(layer, Whiskers)]
    assert sum(len(layer.row) for layer in shown) == len(bond) == 20
    rows = {
        int(row): (float(low), float(high))
        for layer in shown
        for row, low, high in zip(layer.row, layer.lower, layer.upper, strict=True)
    }
    assert rows[0] == (0.1, 0.55)
    assert len({(layer.tone, layer.shape) for layer in shown}) == len(shown) == 4
    assert len({layer.shape for layer in shown}) == 4


def test_modes_add_up_to_all_failures(review: Review) -> None:
    """The cumulative share ends at 100 %."""
    plot = modes(Names(review.log.process), review.failures.tally)
    together = next(layer for layer in plot.layers if isinstance(layer, Line))
    assert together.x[-1] == pytest.approx(1.0)
    assert np.all(np.diff(together.x) > 0)


def test_chart_marks_signals_by_shape_and_phrase(review: Review) -> None:
    """Every signal of the chart has a larger mark of another shape and a plain phrase."""
    chart = review.charts["pumpdown_s"][0]
    plot = in_time(Names(review.log.process), "pumpdown_s", chart, review.log.runs, None)
    usual, signal = (layer for layer in plot.layers if isinstance(layer, Points))
    assert [int(x) - 1 for x in signal.x] == sorted(found.at for found in chart.signals)
    assert signal.shape != usual.shape
    assert signal.size > usual.size
    assert all(text.endswith("beyond a limit") for text in signal.hover)
    assert plot.table is not None
    assert len(plot.table.rows) == len(signal.x)


def test_drift_is_shaded_where_it_may_have_begun(review: Review) -> None:
    """The span covers the first and last run of the interval, half a run to each side."""
    found = review.drifts.drifts[0]
    chart = review.charts["cure_c"][0]
    plot = in_time(Names(review.log.process), "cure_c", chart, review.log.runs, found)
    span = next(layer for layer in plot.layers if isinstance(layer, Span))
    assert (span.low, span.high) == (found.since_interval[0] + 0.5, found.since_interval[1] + 1.5)


def test_drift_levels(review: Review) -> None:
    """A step jumps at its run; a ramp starts there and ends at the level after."""
    step, ramp = review.drifts.drifts[:2]
    level = drift_level(step, 110)
    assert (level[65], level[66]) == (75.0, 79.0)
    slope = drift_level(ramp, 110)
    assert (slope[12], slope[-1]) == (75.0, 100.0)
    assert np.all(np.diff(slope) >= 0)


def test_several_changes_are_stairs_each_with_its_stretch(review: Review) -> None:
    """A level that rose and fell back is drawn so, and both starts are shaded."""
    step = review.drifts.drifts[0]
    changes = (Change(20, (18, 22), 75.0, 79.0), Change(66, (64, 69), 79.0, 74.0))
    found = replace(step, since=66, since_interval=(64, 69), before=79.0, after=74.0,
                    changes=changes)  # fmt: skip
    level = drift_level(found, 110)
    assert (level[19], level[20], level[65], level[66]) == (75.0, 79.0, 79.0, 74.0)
    chart = review.charts["cure_c"][0]
    plot = in_time(Names(review.log.process), "cure_c", chart, review.log.runs, found)
    spans = [layer for layer in plot.layers if isinstance(layer, Span)]
    assert [(span.low, span.high) for span in spans] == [(18.5, 23.5), (64.5, 70.5)]
    assert [bool(span.name) for span in spans] == [True, False]


def test_effect_shows_window_and_limit(review: Review) -> None:
    """The window is shaded from its open end, and the limit marked where it ends."""
    names, factor = Names(review.log.process), first_factor(review)
    assert factor.window is not None
    plot = against_failure(names, factor, review.log.runs)
    assert plot is not None
    span = next(layer for layer in plot.layers if isinstance(layer, Span))
    assert (span.low, span.high) == (None, factor.window.upper)
    tight = tightening(names, factor, factor.tightening[0])
    assert tight is not None
    mark = next(layer for layer in tight.layers if isinstance(layer, Mark))
    assert mark.x == factor.window.upper


@pytest.mark.parametrize(
    ("window", "said"),
    [
        (Window(None, 45.0, "s"), "at most 45 s"),
        (Window(30.0, None, "s"), "at least 30 s"),
        (Window(30.0, 45.0, "s"), "between 30 and 45 s"),
        (Window(None, None, "s"), ""),
        (None, ""),
    ],
)
def test_window_words(review: Review, window: Window | None, said: str) -> None:
    """A window is said with its unit, open ends in words."""
    names = Names(review.log.process)
    assert names.window("delay_s", window).replace("\u00a0", " ") == said


@pytest.mark.parametrize(
    ("window", "said"), [(Window(None, 0.0, ""), "at no"), (Window(1.0, None, ""), "at yes")]
)
def test_window_of_yes_and_no_is_said_as_in_the_verdict(window: Window, said: str) -> None:
    """Never "at most 0.00"."""
    process = load_process()
    assert Names(process).window("touched", window) == said
    assert window_words(window, process.parameter("touched")) == said


def test_names_of_the_labs_own_columns(review: Review) -> None:
    """A column that is not described keeps its name, and has no unit."""
    names = Names(review.log.process)
    assert names.label("my_own_column") == "my own column"
    assert names.value("my_own_column", 1.234) == "1.23"
    assert names.in_words("Holds delay_s and my_delay_s.") == (
        "Holds delay from plasma to contact and my_delay_s."
    )
    assert names.failures("bond") == "bond failures"
    assert names.family("bond") == "bond"


def test_packed_figures_unpack_to_strict_json(review: Review) -> None:
    """What the page carries unpacks to JSON without NaN, one entry per figure."""
    plots = list(all_plots(review))
    packed = zoom.packed_specs(plots, run_labels(review.log.runs))
    assert re.fullmatch(r"[A-Za-z0-9+/=]+", packed)

    def refuse(name: str) -> float:
        raise AssertionError(name)

    specs = json.loads(gzip.decompress(base64.b64decode(packed)), parse_constant=refuse)
    assert sorted(specs["figures"]) == sorted(plot.name for plot in plots)
    assert len(specs["runs"]) == len(review.log.runs)


def test_plotly_gets_no_markup(invented: ModuleType) -> None:
    """Texts from the log cannot become plotly's own small markup."""
    built = invented.build_review(text="<a href='x'>y</a>")
    plot = next(plot for block in blocks(built) for plot in block.plots)
    made = zoom.figure(plot, run_labels(built.log.runs))
    hover = [trace.hovertext for trace in made.data if trace.hovertext is not None]
    assert hover
    assert not [text for texts in hover for text in texts if "<a" in text]


def test_who_ran_places_every_run_in_its_row(review: Review) -> None:
    """Rows are operators, most runs first; every run has one mark, in its operator's row."""
    runs = review.log.runs
    plot = who_ran(runs)
    assert plot is not None
    (points,) = plot.layers
    assert isinstance(points, Points)
    labels = [text for _, text in plot.y.ticks]
    assert sorted(labels) == ["AB", "CD", "EF", "not logged"]
    assert points.x.tolist() == [place + 1 for place in range(len(runs))]
    said = [labels[int(row)] for row in points.y]
    assert said == [str(name) or "not logged" for name in runs.operator]
    counts = [said.count(label) for label in labels]
    assert counts == sorted(counts, reverse=True)
    assert plot.table is not None
    assert [int(row[1]) for row in plot.table.rows] == counts
    assert who_ran(replace(runs, operator=np.full(len(runs), "", dtype=object))) is None
