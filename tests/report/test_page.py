"""The page as text: sound markup, nothing from outside, nothing alive from a cell."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from itertools import pairwise
from types import ModuleType

import pytest

from weakstep.report.colours import LIGHT
from weakstep.report.page import page
from weakstep.reviewing import Review

HOSTILE = '</script><img src=x onerror="alert(1)"><script>alert(2)</script>{{ 7*7 }}\'\u2028\x00'
VOID = {"meta", "link", "br", "img", "hr", "input", "path"}
# HTML lets these end without an end tag where their row or table goes on.
OPTIONAL = {"td", "th", "tr", "thead", "tbody"}


class Reader(HTMLParser):
    """Collects tags, identifiers, links and headings, and checks that tags close in order."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.faults: list[str] = []
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str, str]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Remember a tag and its attributes."""
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        """Close a tag, and those that may end by themselves."""
        while self.open and self.open[-1] != tag and self.open[-1] in OPTIONAL:
            self.open.pop()
        if tag in VOID:
            return
        if not self.open or self.open.pop() != tag:
            self.faults.append(f"</{tag}> closes something else")

    def values(self, name: str) -> list[str]:
        """Return every value of an attribute."""
        return [value for _, found, value in self.attributes if found == name]


def read(text: str) -> Reader:
    """Return a page, parsed."""
    reader = Reader()
    reader.feed(text)
    reader.close()
    return reader


@pytest.fixture(scope="module")
def text(review: Review) -> str:
    """Return the page of the invented review."""
    return page(review)


@pytest.fixture(scope="module")
def reader(text: str) -> Reader:
    """Return the same page, parsed."""
    return read(text)


def test_markup_is_sound(reader: Reader) -> None:
    """Every tag closes in order and no identifier stands twice."""
    assert reader.faults == []
    assert reader.open == []
    identifiers = reader.values("id")
    assert len(identifiers) == len(set(identifiers))


def test_references_within_the_page_exist(reader: Reader) -> None:
    """Links and labels point to something that is there."""
    identifiers = set(reader.values("id"))
    links = {link.removeprefix("#") for link in reader.values("href")}
    assert links | set(reader.values("aria-labelledby")) <= identifiers


def test_nothing_is_fetched(reader: Reader) -> None:
    """No attribute names a place outside the page, and the page forbids itself any request."""
    assert reader.values("src") == []
    assert all(link.startswith("#") for link in reader.values("href"))
    policy = [value for value in reader.values("content") if "default-src" in value]
    assert policy[0].startswith("default-src 'none'")


def test_headings_go_down_one_level_at_a_time(reader: Reader) -> None:
    """One h1, and no level is left out on the way down."""
    levels = [int(tag[1]) for tag in reader.tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels.count(1) == 1
    assert levels[0] == 1
    assert all(later <= earlier + 1 for earlier, later in pairwise(levels))


def test_landmarks_language_and_names(reader: Reader) -> None:
    """The page says its language, has a main landmark, and names every drawing."""
    assert ("html", "lang", "en") in reader.attributes
    assert reader.tags.count("main") == 1
    drawings = reader.tags.count("svg")
    labels = [v for tag, name, v in reader.attributes if (tag, name) == ("svg", "aria-label")]
    assert drawings == len([label for label in labels if label]) > 40
    scopes = [v for tag, name, v in reader.attributes if (tag, name) == ("th", "scope")]
    assert reader.tags.count("th") == len(scopes)
    assert set(scopes) == {"col", "row"}


def test_order_of_reading(text: str) -> None:
    """Verdict, ranking, drifts, failures, parameters, log, trial, cautions, methods, provenance."""
    order = [
        text.index(f'<section id="{name}"')
        for name in ("verdict", "ranking", "moved", "failures", "parameters", "log", "trial",
                     "cautions", "methods", "again")
    ]  # fmt: skip
    assert order == sorted(order)


def test_what_a_reader_needs_is_there(text: str, review: Review) -> None:
    """Verdict, command, hashes, seed, acquitted parameters and cautions stand on the page."""
    plain = text.replace("\u00a0", " ")
    assert review.failures.verdict.sentence in plain
    assert str(review.command) in plain
    assert all(item.sha256 in plain for item in review.log.inputs)
    assert "seed 0" in plain
    assert "base to agent ratio" in plain
    assert "Local rules and trained staff decide." in plain
    assert "Wear gloves when handling treated parts." in plain
    assert "Let trained staff change it." not in plain


def test_numbers_of_patterns_never_appear(text: str) -> None:
    """Signals are named by plain phrases, never by the number of a rule."""
    visible = re.sub(r"<(style|script)[^>]*>.*?</\1>", "", text, flags=re.DOTALL)
    assert "beyond a limit" in visible
    assert not re.search(r"\b[Rr]ule \d", visible)
    assert not re.search(r"\bnan\b|\bNaT\b|\bNone\b", visible)


def test_hostile_text_is_inert(invented: ModuleType) -> None:
    """Markup in every cell that can hold text makes no tag, handler or template of its own."""
    built = page(invented.build_review(text=HOSTILE))
    reader = read(built)
    assert reader.faults == []
    assert "img" not in reader.tags
    assert reader.tags.count("script") == 3
    assert not [name for _, name, _ in reader.attributes if name.startswith("on")]
    assert "alert(1)" in built
    assert "{{ 7*7 }}" in built


def test_colours_of_both_drawings_agree(text: str) -> None:
    """The style sheet's light colours are those that plotly gets outside the page."""
    light = text[text.index(":root {") : text.index("@media")]
    found = dict(re.findall(r"--([a-z]+): (#[0-9a-f]{6})", light))
    assert {tone: found[tone] for tone in LIGHT} == dict(LIGHT)


def test_without_zoom_the_page_is_light(review: Review) -> None:
    """Every finding and figure fits into 300 kB when plotly is left out."""
    light = page(review, zoom=False)
    assert len(light.encode()) <= 300_000
    assert "<script" not in light
    assert light.count("<svg") > 40


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("no failures", "none failed"),
        ("all failed", "all failed"),
        ("no dates", "no dates"),
        ("one run", "One value: no chart."),
        ("no factors", "Nothing could be ranked in this log"),
        ("no charts", "There is no chart of failures in time"),
        ("no drift", "No parameters moved and none held steady."),
        ("no runs", "This log carries no parameter that could be looked at."),
    ],
)
def test_bare_reviews_say_what_could_not_be_done(
    invented: ModuleType, name: str, said: str
) -> None:
    """A review with little in it gives a sound page that says what is missing."""
    built = page(invented.bare_reviews()[name])
    assert said in built
    assert read(built).faults == []
    visible = re.sub(r"<(style|script)[^>]*>.*?</\1>", "", built, flags=re.DOTALL)
    assert not re.search(r"\bnan\b|\bNaT\b|\bNone\b", visible)


def test_the_page_is_the_same_twice(invented: ModuleType) -> None:
    """No clock and no chance enters the page."""
    assert page(invented.build_review()) == page(invented.build_review())
