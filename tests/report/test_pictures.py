"""Figures as files: whole SVG documents, PNG by the optional library, errors in one sentence."""

from __future__ import annotations

import io
import struct
import sys
from dataclasses import replace
from types import ModuleType
from xml.etree import ElementTree

import pytest

from weakstep.errors import OutputError
from weakstep.report import pictures as module
from weakstep.report.colours import LIGHT
from weakstep.report.contents import contents, plots
from weakstep.report.pictures import check_kind, pictures, png, svg_file
from weakstep.report.plot import Plot
from weakstep.reviewing import Review

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def drawn(review: Review) -> list[Plot]:
    """Return every figure of the invented review."""
    return plots(contents(review))


def test_every_figure_is_a_whole_document(drawn: list[Plot]) -> None:
    """Each file is sound XML with its title, and needs nothing from a page: no variable is left."""
    files = pictures(drawn, "svg")
    assert len(files) == len(drawn) > 40
    for plot in drawn:
        text = files[f"figures/{plot.name}.svg"]
        root = ElementTree.parse(io.BytesIO(text)).getroot()
        assert root.find(f"{SVG}title").text == plot.title  # type: ignore[union-attr]
        assert len(root.findall(f"{SVG}path")) > 2
        assert b"var(" not in text
    assert LIGHT["main"].encode() in files["figures/ranking-bond.svg"]


def test_hostile_text_stays_text(invented: ModuleType) -> None:
    """Markup and characters that XML forbids make no element and no broken document."""
    hostile = "</svg><script>alert(1)</script>\x00\x08&amp;"
    plot = plots(contents(invented.build_review(text=hostile)))[0]
    root = ElementTree.fromstring(svg_file(replace(plot, title=hostile)))
    assert not list(root.iter(f"{SVG}script"))
    assert "<script>alert(1)</script>\ufffd\ufffd&amp;" in str(root.get("aria-label"))


def test_png_has_twice_the_size_of_its_drawing(drawn: list[Plot]) -> None:
    """A PNG is one: its signature, and a header with the size (PNG, third edition, W3C 2025)."""
    plot = next(plot for plot in drawn if plot.name == "ranking-bond")
    root = ElementTree.fromstring(svg_file(plot))
    image = pictures([plot], "png")["figures/ranking-bond.png"]
    assert image[:8] == b"\x89PNG\r\n\x1a\n"
    width, height = struct.unpack(">II", image[16:24])
    assert width == 2 * float(str(root.get("width")))
    assert abs(height - 2 * float(str(root.get("height")))) <= 1


def test_missing_library_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the optional library, PNG is refused with the way to get it, and SVG works."""
    monkeypatch.setitem(sys.modules, "resvg_py", None)
    with pytest.raises(OutputError, match=r"pip install 'weakstep\[png\]'"):
        check_kind("png")
    check_kind("svg")
    check_kind(None)


def test_missing_font_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine without a font would draw figures without words: refused."""
    monkeypatch.setattr(module, "_has_font", lambda: False)
    with pytest.raises(OutputError, match="this machine has none"):
        png("<svg/>")
