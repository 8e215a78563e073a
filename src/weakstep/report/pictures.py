"""Figures as files of their own: SVG always, PNG where the optional drawing library is there."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from typing import TYPE_CHECKING, Literal

from weakstep.errors import OutputError
from weakstep.report.colours import LIGHT
from weakstep.report.figure_html import WIDE
from weakstep.report.page import environment, own_file
from weakstep.report.svg import draw

if TYPE_CHECKING:
    from weakstep.report.plot import Plot

Kind = Literal["svg", "png"]
SHARPNESS = 2  # pixels of a PNG per pixel of its drawing
# What XML 1.0 forbids in a document, however it is written.
FORBIDDEN = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def pictures(plots: Iterable[Plot], kind: Kind) -> dict[str, bytes]:
    """
    Return every figure as a file, by its name within the report's folder.

    Parameters
    ----------
    plots : iterable of Plot
    kind : {"svg", "png"}

    Returns
    -------
    dict of str to bytes
        In the light colours, on white.

    Raises
    ------
    OutputError
        PNG was asked for and cannot be drawn on this machine.
    """
    drawings = {f"figures/{file_name(plot.name)}": svg_file(plot) for plot in plots}
    if kind == "svg":
        return {f"{name}.svg": text.encode() for name, text in drawings.items()}
    return {f"{name}.png": png(text) for name, text in drawings.items()}


def check_kind(kind: Kind | None) -> None:
    """Raise OutputError unless this machine can draw figures of a kind: before the long work."""
    if kind == "png":
        png('<svg xmlns="http://www.w3.org/2000/svg" width="1" height="1"/>')


def file_name(name: str) -> str:
    """
    Return a figure's name as a file name every system takes.

    Examples
    --------
    >>> file_name("chance-bond-my_column"), file_name("time-a/b c")
    ('chance-bond-my_column', 'time-a_b_c')
    """
    return re.sub(r"[^\w-]", "_", name)


def svg_file(plot: Plot) -> str:
    """Return a figure as a whole SVG document that needs no style sheet beside it."""
    css = re.sub(r"var\(--([a-z]+)\)", lambda match: LIGHT[match[1]], own_file("figure.css"))
    template = environment().get_template("picture.svg")
    text = template.render(drawing=draw(plot, WIDE), css=css, paper=LIGHT["paper"])
    return FORBIDDEN.sub("\ufffd", text)


def png(svg: str) -> bytes:
    """Return an SVG document as a PNG; raise OutputError where this machine cannot draw it."""
    try:
        from resvg_py import svg_to_bytes
    except ImportError as error:
        msg = (
            "PNG figures need one more library: pip install 'weakstep[png]'. "
            "SVG figures need none: --figures svg."
        )
        raise OutputError(msg) from error
    if not _has_font():
        msg = (
            "PNG figures need a font, and this machine has none. Install one, or take "
            "SVG figures: --figures svg."
        )
        raise OutputError(msg)
    return bytes(svg_to_bytes(svg_string=svg, zoom=SHARPNESS))


@cache
def _has_font() -> bool:
    from resvg_py import svg_to_bytes

    sheet = '<svg xmlns="http://www.w3.org/2000/svg" width="40" height="40">{}</svg>'
    letter = '<text x="5" y="30" font-family="sans-serif">A</text>'
    drawn, blank = (svg_to_bytes(svg_string=sheet.format(text)) for text in (letter, ""))
    return bytes(drawn) != bytes(blank)
