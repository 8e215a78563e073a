"""Figures as the page carries them: a wide and a narrow still drawing."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from weakstep.report.svg import draw

if TYPE_CHECKING:
    from jinja2 import Template
    from markupsafe import Markup

    from weakstep.report.plot import Plot

WIDE = 860.0
HALF = 400.0
NARROW = 360.0


def still(plot: Plot, *, half: bool = False) -> Markup:
    """
    Return a figure as inline SVG.

    A half-width figure is legible on a phone as it is; a wide one comes in two drawings, and the
    style sheet shows the one that fits.
    """
    from markupsafe import Markup

    pair = [(WIDE, False, "wide"), (NARROW, True, "narrow")]
    sizes = [(HALF, False, "half")] if half else pair
    drawn = [
        _template().render(drawing=draw(plot, width, labels_above=above), kind=kind)
        for width, above, kind in sizes
    ]
    return Markup("\n").join(Markup(text) for text in drawn)


@cache
def _template() -> Template:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader("weakstep.report"), autoescape=True, undefined=StrictUndefined
    )
    made.filters["num"] = lambda value: f"{value:g}"
    return made.get_template("figure.svg")
