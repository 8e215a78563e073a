"""A Review as one page of HTML that works from a file, offline and without JavaScript."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from weakstep.report.contents import contents, plots
from weakstep.report.figure_html import still
from weakstep.report.figures.in_time import run_labels
from weakstep.report.words import capital, count, kept_together, listed, sentence
from weakstep.report.zoom import packed, packed_specs

if TYPE_CHECKING:
    from jinja2 import Environment

    from weakstep.reviewing import Review


def page(review: Review, *, zoom: bool = True, title: str | None = None) -> str:
    """
    Return the whole page as HTML.

    Parameters
    ----------
    review : Review
    zoom : bool
        Whether the figures can be zoomed, which puts plotly into the page (2 MB); every finding
        and every figure is there without it, with shorter lists.
    title : str, optional
        Heading of the page; left out, the process names it.

    Returns
    -------
    str
        One self-contained document: no request to anywhere.
    """
    return render(contents(review, title=title, short=not zoom), review, zoom=zoom)


def render(said: dict[str, Any], review: Review, *, zoom: bool) -> str:
    """Return the page that carries these contents."""
    drawn = plots(said) if zoom else []
    runs = review.log.runs
    packages = {
        "zoom_library": packed_plotly() if drawn else "",
        "zoom_figures": packed_specs(drawn, run_labels(runs), map(str, runs.operator))
        if drawn
        else "",
    }
    return environment().get_template("page.html").render(said | packages)


@cache
def environment() -> Environment:
    """Return the template environment; every text is escaped unless it is our own markup."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader("weakstep.report"),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=StrictUndefined,
    )
    made.filters["count"] = count
    made.filters["sentence"] = sentence
    made.filters["kept"] = kept_together
    made.filters["capital"] = capital
    made.filters["listed"] = listed
    made.filters["num"] = lambda value: f"{value:g}"
    made.globals["still"] = still
    made.globals["css"] = own_file("report.css") + own_file("figure.css")
    made.globals["script"] = own_file("report.js")
    return made


@cache
def packed_plotly() -> str:
    """Return plotly's own browser library, packed."""
    from plotly.offline import get_plotlyjs

    return packed(get_plotlyjs())


def own_file(name: str) -> str:
    """Return one of the files beside the templates."""
    return (files("weakstep.report") / "templates" / name).read_text(encoding="utf-8")
