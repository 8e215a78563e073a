"""The page in a real browser: it opens alone, fits, zooms, prints, and stands without scripts."""

from __future__ import annotations

import re
import zlib
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from types import ModuleType
from typing import Literal

import pytest
from playwright.sync_api import Browser, Page

from weakstep.report.write import write_report

SCHEMES: tuple[Literal["light", "dark"], ...] = ("light", "dark")

SECTIONS = (
    "Which parameters are linked to failures?",
    "What moved, and since when?",
    "When did chips fail, and how?",
    "Parameter by parameter",
    "How good is this log?",
    "What to try next",
    "Before you change anything",
    "How this was worked out",
    "Where this page comes from",
)
VERDICT = "Tighten contact first: keep the delay from plasma to contact below 45"


class Watched:
    """A page with everything it complained about and everything it asked for."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.complaints: list[str] = []
        self.requests: list[str] = []
        page.on("console", lambda message: self.complaints.append(message.text))
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("request", lambda request: self.requests.append(request.url))


@pytest.fixture
def watched(browser: Browser, address: str) -> Iterator[Watched]:
    """Yield the opened page, watched from the start."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    found = Watched(context.new_page())
    found.page.goto(address)
    yield found
    context.close()


def drawn_figures(page: Page) -> int:
    """Return how many still drawings are visible now, closed blocks apart."""
    found = page.evaluate(
        "[...document.querySelectorAll('svg.still')].filter("
        "s => s.getBoundingClientRect().width > 100 && s.checkVisibility()).length"
    )
    return int(found)


def test_opens_from_a_file_alone(watched: Watched, address: str) -> None:
    """No complaint in the console, and no request but for the page itself."""
    assert (
        watched.page.title() == "Invented line: cast chips bonded to glass: what to tighten first"
    )
    assert watched.complaints == []
    assert watched.requests == [address]


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("width", [320, 390, 768, 1280])
def test_no_sideways_scroll(
    browser: Browser, address: str, width: int, scheme: Literal["light", "dark"]
) -> None:
    """The page fits its window at any width, with every block and list opened."""
    context = browser.new_context(viewport={"width": width, "height": 844}, color_scheme=scheme)
    page = context.new_page()
    page.goto(address)
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    context.close()


def test_findings_stand_without_javascript(browser: Browser, address: str) -> None:
    """With scripts off the verdict, the sections and the drawings are there, and no dead button."""
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(address)
    text = page.locator("body").inner_text().replace("\u00a0", " ")
    assert VERDICT in text
    assert all(section in text for section in SECTIONS)
    assert page.locator("svg.still.wide:visible").count() >= 4
    assert page.locator("button").count() == 0
    context.close()


def test_every_figure_zooms(watched: Watched) -> None:
    """Every figure's button draws it by plotly in place of the still one, without a complaint."""
    page = watched.page
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    figures = page.locator("figure[data-zoom]").count()
    assert page.locator("button.zoom").count() == figures > 20
    page.evaluate("document.querySelectorAll('button.zoom').forEach(button => button.click())")
    drawn = "document.querySelectorAll('.live .cartesianlayer .subplot').length"
    page.wait_for_function(f"() => {drawn} >= {figures}", timeout=120_000)
    assert page.evaluate(drawn) == figures
    assert page.locator("figure.zoomed .drawn:visible").count() == 0
    # Lines of text are called "line" by plotly as lines of ours are: they must not get a stroke.
    lines = "[...document.querySelectorAll('.live tspan')].map(t => getComputedStyle(t).stroke)"
    assert set(page.evaluate(lines)) == {"none"}
    assert watched.complaints == []
    assert len(watched.requests) == 1


def test_zoom_goes_both_ways(watched: Watched) -> None:
    """The button says whether it is pressed, and a second press brings the still drawing back."""
    page = watched.page
    figure = page.locator("figure[data-zoom='ranking-bond']")
    button = figure.locator("button.zoom")
    assert button.get_attribute("aria-pressed") == "false"
    button.focus()
    page.keyboard.press("Enter")
    figure.locator(".live .main-svg").first.wait_for()
    assert button.get_attribute("aria-pressed") == "true"
    page.keyboard.press("Enter")
    assert figure.locator("svg.wide").is_visible()
    assert not figure.locator(".live").is_visible()


def test_hover_shows_the_run(watched: Watched) -> None:
    """Pointing at a run's mark shows its identifier, date and value."""
    page = watched.page
    figure = page.locator("figure[data-zoom='time-cure_c']")
    figure.locator("button.zoom").click()
    mark = figure.locator(".scatterlayer .trace .points path").nth(5)
    mark.wait_for()
    mark.hover(force=True)
    label = figure.locator(".hoverlayer text").first
    label.wait_for()
    assert re.search(
        r"run P\d{3}, \d{1,2}\s\w+ 2026, .*°C", figure.locator(".hoverlayer").text_content() or ""
    )


def test_operators_can_be_shown(watched: Watched) -> None:
    """A second button marks the runs of each operator apart, and takes the marks away again."""
    figure = watched.page.locator("figure[data-zoom='time-cure_c']")
    assert figure.locator("button.who").count() == 0
    figure.locator("button.zoom").click()
    button = figure.locator("button.who")
    button.wait_for()
    assert "AB" not in (figure.locator(".legend").text_content() or "")
    button.click()
    figure.locator(".legend .traces", has_text="operator not logged").wait_for()
    named = [text.strip() for text in figure.locator(".legend .traces").all_text_contents()]
    assert {"AB", "CD", "EF", "operator not logged"} <= set(named)
    live = "document.querySelector(\"figure[data-zoom='time-cure_c'] .live\").data"
    split = f"{live}.filter(t => ['AB', 'CD', 'EF', 'operator not logged'].includes(t.name))"
    assert watched.page.evaluate(f"new Set({split}.map(t => t.marker.symbol)).size") == 4
    assert watched.page.evaluate(f"{split}.reduce((sum, t) => sum + t.y.length, 0)") == 110
    assert button.get_attribute("aria-pressed") == "true"
    button.click()
    figure.locator(".legend .traces", has_text="operator not logged").wait_for(state="detached")
    assert watched.complaints == []


def test_hostile_text_does_nothing(browser: Browser, invented: ModuleType, tmp_path: Path) -> None:
    """Markup in every cell that holds text: no dialog, no request, no element, no complaint."""
    hostile = (
        "</script><img src='https://example.org/x' onerror=alert(1)>"
        "<a href='javascript:alert(2)'>x</a><svg onload=alert(3)><script>alert(4)</script>"
    )
    file = write_report(invented.build_review(text=hostile), tmp_path / "report")
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    found = Watched(context.new_page())
    dialogs: list[str] = []
    found.page.on("dialog", lambda dialog: (dialogs.append(dialog.message), dialog.dismiss()))
    found.page.goto(file.as_uri())
    found.page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    for name in ("time-cure_c", "ranking-bond"):
        found.page.locator(f"figure[data-zoom='{name}'] button.zoom").click()
        found.page.locator(f"figure[data-zoom='{name}'] .live .main-svg").first.wait_for()
    figure = found.page.locator("figure[data-zoom='time-cure_c']")
    mark = figure.locator(".scatterlayer .trace .points path").nth(5)
    mark.hover(force=True)
    figure.locator(".hoverlayer text").first.wait_for()
    assert "alert(4)" in (figure.locator(".hoverlayer").text_content() or "")
    assert "alert(4)" in found.page.locator("#log").inner_text()
    assert found.page.locator("img, iframe, object, embed, [onerror], [onload]").count() == 0
    links = found.page.evaluate(
        "[...document.querySelectorAll('a')].map(a => a.getAttribute('href') "
        "?? a.getAttribute('xlink:href')).filter(to => to && !to.startsWith('#'))"
    )
    assert (dialogs, links, found.complaints) == ([], [], [])
    assert found.requests == [file.as_uri()]
    context.close()


def test_keyboard_visits_what_is_seen_in_order(watched: Watched) -> None:
    """Tab goes down the page: each stop is visible, and none lies far above the one before."""
    page = watched.page
    page.set_viewport_size({"width": 390, "height": 844})  # one column: down is the only way
    stops = []
    for _ in range(40):
        page.keyboard.press("Tab")
        stops.append(
            page.evaluate(
                "(() => { const e = document.activeElement, b = e.getBoundingClientRect();"
                " return [e.tagName, b.width * b.height, b.top + scrollY, b.left]; })()"
            )
        )
    assert {name for name, *_ in stops} >= {"A", "SUMMARY", "BUTTON"}
    assert all(area > 0 for _, area, *_ in stops)
    places = [(top, left) for _, _, top, left in stops[1:]]
    assert [pair for pair in pairwise(places) if pair[1][0] < pair[0][0] - 5] == []


def test_drag_zooms_in(watched: Watched) -> None:
    """Dragging over the drawing narrows the axis; a double click brings the whole back."""
    page = watched.page
    figure = page.locator("figure[data-zoom='failures-in-time']")
    figure.locator("button.zoom").click()
    figure.locator(".live .main-svg").first.wait_for()
    live = "document.querySelector(\"figure[data-zoom='failures-in-time'] .live\")"
    span = f"() => {live}.layout.xaxis.range"
    before = page.evaluate(span)
    area = figure.locator(".nsewdrag").first.bounding_box()
    assert area is not None
    middle = area["y"] + area["height"] / 2
    page.mouse.move(area["x"] + area["width"] * 0.3, middle)
    page.mouse.down()
    page.mouse.move(area["x"] + area["width"] * 0.6, middle, steps=5)
    page.mouse.up()
    page.wait_for_function(
        f"before => {{ const now = {live}.layout.xaxis.range;"
        " return now[1] - now[0] < 0.5 * (before[1] - before[0]); }",
        arg=before,
    )
    after = page.evaluate(span)
    assert before[0] < after[0] < after[1] < before[1]


def test_headings_and_landmarks(watched: Watched) -> None:
    """Headings go down one level at a time; the first stop of the keyboard skips to the verdict."""
    page = watched.page
    levels = page.evaluate(
        "[...document.querySelectorAll('h1,h2,h3,h4,h5,h6')].map(h => Number(h.tagName[1]))"
    )
    assert levels[0] == 1
    assert max(b - a for a, b in pairwise(levels)) == 1
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    box = page.locator(".skip").bounding_box()
    assert box is not None
    assert box["x"] >= 0


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_print_has_every_section(watched: Watched, paper: str) -> None:
    """Printed, even from a zoomed page, every section and every open figure is there."""
    page = watched.page
    page.locator("figure[data-zoom='ranking-bond'] button.zoom").click()
    page.locator(".live .main-svg").first.wait_for()
    page.emulate_media(media="print")
    visible = page.locator("body").inner_text()
    assert all(section in visible for section in SECTIONS)
    assert page.locator(".live:visible").count() == 0
    assert page.locator("button:visible").count() == 0
    assert drawn_figures(page) == page.evaluate(
        "[...document.querySelectorAll('figure')]"
        ".filter(figure => !figure.closest('details:not([open])')).length"
    )
    printed = page.pdf(format=paper, outline=True, tagged=True)
    titles = outline_titles(printed)
    assert all(section in titles for section in SECTIONS)


def outline_titles(printed: bytes) -> str:
    """Return the headings that a PDF's outline lists."""
    found = re.findall(rb"/Title \(((?:[^()\\]|\\.)*)\)", printed)
    for stream in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", printed, flags=re.DOTALL):
        try:
            found += re.findall(rb"/Title \(((?:[^()\\]|\\.)*)\)", zlib.decompress(stream))
        except zlib.error:
            continue
    return "\n".join(title.decode("latin-1") for title in found)


def test_opens_fast(browser: Browser, address: str) -> None:
    """The page is ready within three seconds of being asked for."""
    context = browser.new_context()
    page = context.new_page()
    page.goto(address)
    ready = page.evaluate("performance.getEntriesByType('navigation')[0].domComplete")
    assert 0 < ready < 3000
    context.close()
