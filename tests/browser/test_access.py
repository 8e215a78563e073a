"""The page for everyone, in a real browser: WCAG 2.2 beyond what axe-core can see."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Literal

import pytest
from playwright.sync_api import Browser, Locator, Page

from weakstep.report.write import write_report

FIGURE = "figure[data-zoom='time-cure_c']"
RANGE = f'document.querySelector("{FIGURE} .live").layout.xaxis.range'
FOCUSED = """(() => {
  const style = getComputedStyle(document.activeElement);
  return [style.outlineStyle, parseFloat(style.outlineWidth), style.outlineColor];
})()"""


@pytest.fixture
def page(browser: Browser, address: str) -> Iterator[Page]:
    """Yield the opened page at desktop width."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    opened = context.new_page()
    opened.goto(address)
    yield opened
    context.close()


def zoomed(page: Page) -> Locator:
    """Return a figure that plotly has drawn."""
    figure = page.locator(FIGURE)
    figure.locator("button.zoom").click()
    figure.get_by_role("button", name="Closer").wait_for()
    return figure


def test_focus_is_seen(page: Page) -> None:
    """2.4.7, 2.4.13: each stop of the keyboard has an outline of 3 pixels in a strong colour."""
    kinds = set()
    for _ in range(40):
        page.keyboard.press("Tab")
        kinds.add(page.evaluate("document.activeElement.tagName"))
        assert page.evaluate(FOCUSED) == ["solid", 3, "rgb(0, 114, 178)"]
    assert kinds >= {"A", "SUMMARY", "BUTTON"}


def test_focus_is_never_hidden(page: Page) -> None:
    """2.4.11: nothing of the page's own lies over the element that has the focus."""
    for _ in range(40):
        page.keyboard.press("Tab")
        assert page.evaluate(
            "(() => { const e = document.activeElement, b = e.getClientRects()[0];"
            " const on = document.elementFromPoint(b.left + b.width / 2, b.top + b.height / 2);"
            " return e === on || e.contains(on) || on.contains(e); })()"
        )


@pytest.mark.parametrize("width", [390, 1280])
def test_targets_are_large_enough(page: Page, width: int) -> None:
    """2.5.8: links outside of sentences, buttons and summaries are at least 24 pixels each way."""
    page.set_viewport_size({"width": width, "height": 900})
    zoomed(page)
    small = page.evaluate(
        "[...document.querySelectorAll('nav a, button, summary')].filter(e => e.checkVisibility())"
        ".map(e => [e.textContent, e.getBoundingClientRect()])"
        ".filter(([, b]) => b.width < 24 || b.height < 24).map(([text]) => text)"
    )
    assert small == []


def test_wide_letters_fit(page: Page) -> None:
    """1.4.12: with the spacing of text that readers may set, nothing is lost sideways."""
    page.set_viewport_size({"width": 320, "height": 900})
    page.add_style_tag(
        content="* { line-height: 1.5 !important; letter-spacing: .12em !important;"
        " word-spacing: .16em !important; } p { margin-bottom: 2em !important; }"
    )
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    assert page.evaluate("document.documentElement.scrollWidth") <= 320


@pytest.mark.parametrize("width", [320, 390])
def test_long_names_fit(browser: Browser, invented: ModuleType, tmp_path: Path, width: int) -> None:
    """1.4.10: names without a place to break, in every cell of text, never need sideways scroll."""
    file = write_report(invented.build_review(text="x" * 90), tmp_path / "report", static=True)
    context = browser.new_context(viewport={"width": width, "height": 844})
    opened = context.new_page()
    opened.goto(file.as_uri())
    opened.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    assert opened.evaluate("document.documentElement.scrollWidth") <= width
    context.close()


def test_zoom_without_dragging(page: Page) -> None:
    """2.5.7, 2.1.1: buttons zoom and move by keyboard alone, stay inside, and bring all back."""
    figure = zoomed(page)
    first, last = whole = page.evaluate(RANGE)
    quarter = (last - first) / 4
    expected = {
        "Closer": [first + quarter, last - quarter],
        "Left": [first, last - 2 * quarter],
        "Right": [first + quarter, last - quarter],
        "Wider": whole,
        "All": whole,
    }
    for name, ends in expected.items():
        button = figure.get_by_role("button", name=name, exact=True)
        button.focus()
        page.keyboard.press("Enter")
        page.wait_for_function(
            f"ends => {RANGE}.every((end, at) => Math.abs(end - ends[at]) < 1e-6)", arg=ends
        )
        assert button.evaluate("e => e === document.activeElement")


def test_keyboard_goes_on_from_the_zoom_button(page: Page) -> None:
    """2.4.3: what a press of the button adds comes right after it, then the numbers."""
    zoomed(page)
    page.locator(f"{FIGURE} button.zoom").focus()
    stops = []
    for _ in range(7):
        page.keyboard.press("Tab")
        stops.append(page.evaluate("document.activeElement.textContent").split(":")[0])
    assert stops == ["Show operators", "Closer", "Wider", "Left", "Right", "All", "The numbers"]


def test_nothing_moves(page: Page) -> None:
    """2.3.3: nothing is animated and jumps are at once, whatever motion the reader prefers."""
    zoomed(page)
    assert page.evaluate("getComputedStyle(document.documentElement).scrollBehavior") == "auto"
    moving = page.evaluate(
        "[...document.querySelectorAll('main *')].map(e => getComputedStyle(e))"
        ".filter(s => s.animationName !== 'none' || s.transitionDuration !== '0s').length"
    )
    assert moving == 0


def test_high_contrast_mode(browser: Browser, address: str) -> None:
    """Letters of figures follow the system's colours, drawn still or by plotly."""
    context = browser.new_context(forced_colors="active", color_scheme="dark")
    opened = context.new_page()
    complaints: list[str] = []
    opened.on("console", lambda message: complaints.append(message.text))
    opened.goto(address)
    ground = opened.evaluate("getComputedStyle(document.documentElement).backgroundColor")
    letters = opened.evaluate("getComputedStyle(document.querySelector('svg.still text')).fill")
    assert (ground, letters) == ("rgb(0, 0, 0)", "rgb(255, 255, 255)")
    zoomed(opened)
    drawn = opened.evaluate("getComputedStyle(document.querySelector('.live .xtick text')).fill")
    assert drawn == "rgb(255, 255, 255)"
    assert complaints == []
    context.close()


def test_folded_findings_are_printed(
    browser: Browser, invented: ModuleType, tmp_path: Path
) -> None:
    """Paper cannot be unfolded: what a long list folds away on screen stands in print."""
    review = invented.build_review()
    weak = replace(review.drifts.drifts[0], evidence="some", before=75.25)
    many = replace(review.drifts, drifts=(*review.drifts.drifts, *[weak] * 6))
    file = write_report(replace(review, drifts=many), tmp_path / "report", static=True)
    context = browser.new_context()
    opened = context.new_page()
    opened.goto(file.as_uri())
    fold = opened.locator("details", has_text="without strong evidence")
    seen = "e => e.querySelector('ul').checkVisibility()"
    assert not fold.evaluate(seen)
    opened.emulate_media(media="print")
    assert fold.evaluate(seen)
    # A list that was opened on screen is printed whole, not to the height of its frame.
    opened.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    heights = "[...document.querySelectorAll('.scroll')].map(e => getComputedStyle(e).maxHeight)"
    assert set(opened.evaluate(heights)) == {"none"}
    context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_has_contrast(
    browser: Browser, address: str, scheme: Literal["light", "dark"]
) -> None:
    """Every text colour reaches 4.5 to 1 on the page's ground, and every mark 3 to 1 (WCAG 2.2)."""
    context = browser.new_context(color_scheme=scheme)
    page = context.new_page()
    page.goto(address)
    names = ("ink", "muted", "link", "main", "signal", "good", "fourth", "fifth")
    style = "getComputedStyle(document.documentElement).getPropertyValue"
    paper = page.evaluate(f"{style}('--paper')")
    for name in names:
        least = 4.5 if name in ("ink", "muted", "link") else 3.0
        assert contrast(page.evaluate(f"{style}('--{name}')"), paper) >= least, name
    context.close()


def contrast(one: str, two: str) -> float:
    """Return the contrast ratio of two colours as WCAG 2.2 defines it."""

    def light(colour: str) -> float:
        parts = [int(colour.strip().lstrip("#")[at : at + 2], 16) / 255 for at in (0, 2, 4)]
        linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    bright, dim = sorted((light(one), light(two)), reverse=True)
    return (bright + 0.05) / (dim + 0.05)
