"""What the page says, short and as Markdown, for a lab's wiki."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING, Any

from weakstep.report.words import sentence

if TYPE_CHECKING:
    from jinja2 import Environment

    from weakstep.reviewing import Review

MARKS = re.compile(r"([\\`*_{}\[\]<>#|~])")


def summary(said: dict[str, Any], review: Review) -> str:
    """Return the summary of a review, from the contents of its page."""
    text = _environment().get_template("summary.md").render(said | {"review": review})
    return re.sub(r"\n{3,}", "\n\n", text).strip() + "\n"


def inert(text: object) -> str:
    r"""
    Return text on one line in which Markdown and HTML find nothing to act on.

    Examples
    --------
    >>> inert("a|b\n# c"), inert("<b>1 & 2</b>")
    ('a\\|b \\# c', '\\<b\\>1 &amp; 2\\</b\\>')
    """
    return MARKS.sub(r"\\\1", " ".join(str(text).split()).replace("&", "&amp;"))


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    # Markdown is no markup that automatic escaping knows: every text passes the filter instead.
    made = Environment(
        loader=PackageLoader("weakstep.report"),
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=StrictUndefined,
    )
    made.filters["md"] = inert
    made.filters["sentence"] = sentence
    return made
