"""What a picture shows: size, ground, words, marks and where they lie, by Pillow."""

from __future__ import annotations

import io
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image

from weakstep.report.colours import LIGHT
from weakstep.report.contents import contents, plots
from weakstep.report.pictures import pictures, svg_file
from weakstep.report.plot import Plot
from weakstep.reviewing import Review

SVG = "{http://www.w3.org/2000/svg}"
SAMPLE = Path(__file__).parents[2] / "reports" / "semester.png"


@pytest.fixture(scope="module")
def drawn(review: Review) -> dict[str, Plot]:
    """Return every figure of the invented review, by name."""
    return {plot.name: plot for plot in plots(contents(review))}


def pixels(image: bytes | Path) -> np.ndarray:
    """Return a picture's pixels as red, green and blue on white, shape (height, width, 3)."""
    opened = Image.open(image if isinstance(image, Path) else io.BytesIO(image)).convert("RGBA")
    white = Image.new("RGBA", opened.size, "white")
    return np.asarray(Image.alpha_composite(white, opened).convert("RGB"), dtype=int)


def close_to(found: np.ndarray, colour: str) -> np.ndarray:
    """Return which pixels have a colour, to a tenth of the scale, shape (height, width)."""
    wanted = [int(colour[at : at + 2], 16) for at in (1, 3, 5)]
    return np.asarray((np.abs(found - wanted) <= 25).all(axis=2))


def test_every_svg_holds_its_words(drawn: dict[str, Plot]) -> None:
    """Axis labels, ticks and legend stand as text in each file, not as outlines."""
    for plot in drawn.values():
        root = ElementTree.fromstring(svg_file(plot))
        words = [node.text or "" for node in root.iter(f"{SVG}text")]
        assert len(words) >= 4, plot.name
        said = " ".join(words)
        first_tick = plot.x.ticks[0][1].split("\n")[0]
        assert first_tick in said, plot.name
        named = [layer.name for layer in plot.layers if layer.name]
        assert all(name[:20] in said for name in named), plot.name


@pytest.mark.parametrize("name", ["ranking-bond", "time-cure_c", "chance-bond-delay_s", "modes"])
def test_picture_is_filled(drawn: dict[str, Plot], name: str) -> None:
    """White paper, ink to every side of it, and 1 to 60 % of it covered: neither blank nor full."""
    found = pixels(pictures([drawn[name]], "png")[f"figures/{name}.png"])
    inked = ~close_to(found, "#ffffff")
    assert 0.01 < inked.mean() < 0.60
    down, across = np.flatnonzero(inked.any(axis=1)), np.flatnonzero(inked.any(axis=0))
    height, width = inked.shape
    assert across[0] < 0.03 * width
    assert across[-1] > 0.95 * width
    assert down[0] < 0.08 * height
    assert down[-1] > 0.92 * height
    corners = found[[2, 2, -3, -3], [2, -3, 2, -3]]
    assert close_to(corners[None], "#ffffff").all()


def test_marks_lie_where_the_runs_are(drawn: dict[str, Plot]) -> None:
    """In the chart in time: runs in blue all along, signals in orange, the pale band behind."""
    plot = drawn["time-cure_c"]
    found = pixels(pictures([plot], "png")["figures/time-cure_c.png"])
    width = found.shape[1]
    runs = np.flatnonzero(close_to(found, LIGHT["main"]).any(axis=0)) / width
    assert runs.min() < 0.10
    assert runs.max() > 0.93
    # No stretch of a tenth of the width without a run.
    assert np.diff(runs).max() < 0.1
    assert close_to(found, LIGHT["signal"]).sum() > 20
    assert 0.1 < close_to(found, LIGHT["band"]).mean() < 0.7


def test_the_first_row_reaches_farthest(drawn: dict[str, Plot]) -> None:
    """In the ranking the strong factor's mark is orange, and lies right of every other mark."""
    found = pixels(pictures([drawn["ranking-bond"]], "png")["figures/ranking-bond.png"])
    # The legend is one line of 22 pixels, drawn twice as sharp.
    rows = found[2 * 22 :]
    strong, rest = close_to(rows, LIGHT["signal"]), close_to(rows, LIGHT["main"])
    assert strong.any()
    assert np.flatnonzero(strong.any(axis=1))[0] < rows.shape[0] / 6
    assert not rest.any() or (
        np.flatnonzero(strong.any(axis=0)).mean() > np.flatnonzero(rest.any(axis=0)).mean()
    )


def test_picture_of_the_sample() -> None:
    """The README's picture: as wide as it was taken, text at the top, the ranking's marks below."""
    found = pixels(SAMPLE)
    assert found.shape[1] == 1060
    assert found.shape[0] >= 1200
    inked = ~close_to(found, "#ffffff")
    assert 0.02 < inked.mean() < 0.4
    top = found[:600]
    assert close_to(top, LIGHT["ink"]).sum() > 2000
    assert not close_to(top, LIGHT["signal"]).any()
    assert close_to(found[600:], LIGHT["signal"]).sum() > 100
    assert close_to(found[600:], LIGHT["muted"]).sum() > 100
