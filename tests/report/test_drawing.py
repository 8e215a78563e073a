"""Drawing by our own hand: paths of lines, and words that have to fit."""

from __future__ import annotations

import math
import re

import numpy as np

from weakstep.report.lettering import shortened, text_width, wrapped
from weakstep.report.marks import polyline, repeated
from weakstep.report.plot import Axis, Plot, Whiskers, row_axis
from weakstep.report.svg import draw


def test_paths_place_every_point() -> None:
    """Relative paths end where the points are, to a tenth of a pixel, however many there are."""
    x = np.linspace(0.0, 300.0, 1001)
    y = 50.0 + 40.0 * np.sin(x / 20)
    numbers = [float(n) for n in re.findall(r"-?(?:\d+\.?\d*|\.\d+)", polyline(x, y))]
    assert math.isclose(sum(numbers[::2]), 300.0, abs_tol=0.06)
    assert math.isclose(sum(numbers[1::2]), float(y[-1]), abs_tol=0.06)
    assert repeated(np.array([5.0, 8.0]), np.array([9.0, 9.0]), "v9", 9.0) == "M5 9v9m3-9v9"


def test_gaps_break_a_line() -> None:
    """A missing value leaves a gap instead of a bridge."""
    path = polyline(np.arange(5.0), np.array([1.0, 2.0, np.nan, 3.0, 4.0]))
    assert path == "M0 1l1 1M3 3l1 1"


def test_long_labels_that_begin_alike_stay_apart() -> None:
    """They stand above their rows, in as many lines as they need, and no line meets another."""
    labels = [f"{'a very long name of a reading ' * 3}number {place}" for place in range(4)]
    axis = Axis("share", 0.0, 1.0, [(0.0, "0"), (1.0, "1")])
    marks = np.linspace(0.2, 0.8, 4)
    rows = Whiskers(np.arange(4.0), marks, marks - 0.1, marks + 0.1, "main", "dot", "", labels)
    plot = Plot("p", "title", "See.", axis, row_axis(labels), (rows,))
    for width in (860.0, 360.0):
        words = [word for word in draw(plot, width).words if word.classes == "row"]
        assert not any("…" in word.text for word in words)
        assert " ".join(word.text for word in sorted(words, key=lambda word: word.y)) == " ".join(
            labels
        )
        heights = sorted(word.y for word in words)
        assert min(np.diff(heights)) >= 16.0
        assert all(text_width(word.text) <= width for word in words)


def test_text_is_wrapped_and_shortened_to_fit() -> None:
    """Long words are cut with an ellipsis, long lines wrapped at spaces with nothing lost."""
    words = "upper limit on delay from plasma to contact (s); below it: past runs that met it"
    lines = wrapped(words, 200.0)
    assert " ".join(lines) == words
    assert all(text_width(line) <= 200.0 for line in lines)
    cut = shortened("w" * 100, 200.0)
    assert cut.endswith("…")
    assert text_width(cut) <= 200.0
