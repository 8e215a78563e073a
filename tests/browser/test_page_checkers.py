"""The page before two independent judges: axe-core for accessibility, the Nu checker for HTML."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path
from types import ModuleType
from typing import Literal

import pytest
from playwright.sync_api import Browser

from weakstep.report.page import page
from weakstep.report.write import write_report

# tests/run_all.sh installs both, in pinned versions, and leaves this file out where it cannot.
CHECKERS = Path(__file__).parents[2] / ".page-checkers" / "node_modules"
AXE = CHECKERS / "axe-core" / "axe.min.js"
NU = CHECKERS / "vnu-jar" / "build" / "dist" / "vnu.jar"
WCAG = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")
HOSTILE = '</script><img src=x onerror="document.title=1"><!-- <svg onload=alert(1)>\u2028'


def need(checker: Path) -> Path:
    """Return a checker's file; fail with one sentence when it was not installed."""
    if not checker.is_file():
        pytest.fail(f"{checker} is missing: 'bash tests/run_all.sh' installs it (npm is needed).")
    return checker


@pytest.mark.parametrize(
    ("width", "scheme", "opened"),
    [(1280, "light", True), (390, "dark", False)],
)
def test_axe_finds_no_violation(
    browser: Browser, address: str, width: int, scheme: Literal["light", "dark"], opened: bool
) -> None:
    """No violation of WCAG 2.2 A and AA or of good practice, closed or with everything opened."""
    context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)
    tab = context.new_page()
    tab.goto(address)
    if opened:
        tab.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
        tab.locator("figure[data-zoom='time-cure_c'] button.zoom").click()
        tab.locator("figure[data-zoom='time-cure_c'] .live .main-svg").first.wait_for()
    tab.evaluate(need(AXE).read_text(encoding="utf-8"))
    options = {"runOnly": {"type": "tag", "values": list(WCAG)}, "resultTypes": ["violations"]}
    found = tab.evaluate("options => axe.run(document, options)", options)
    context.close()
    assert len(found["passes"]) > 20
    assert [(item["id"], item["nodes"][0]["html"][:200]) for item in found["violations"]] == []


def test_nu_checker_finds_no_error(invented: ModuleType, tmp_path: Path) -> None:
    """Whole, light, hostile and nearly empty pages, and figure files, are sound HTML and SVG."""
    review = invented.build_review()
    write_report(review, tmp_path / "whole", figures="svg")
    pages = {
        "light": page(review, zoom=False),
        "hostile": page(invented.build_review(text=HOSTILE)),
        **{name: page(bare, zoom=False) for name, bare in invented.bare_reviews().items()},
    }
    for name, text in pages.items():
        (tmp_path / f"{name}.html").write_text(text, encoding="utf-8")
    checked = [
        str(file) for file in sorted(tmp_path.rglob("*")) if file.suffix in (".html", ".svg")
    ]
    command = ["java", "-jar", str(need(NU)), "--format", "json", "--also-check-svg", *checked]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    found = json.loads(done.stderr)["messages"]
    assert len(checked) > 50
    assert [(item["url"][-40:], item["message"]) for item in found] == []


def test_nu_checker_would_see_an_error(tmp_path: Path) -> None:
    """A fault planted in a page is reported, so that silence above means soundness."""
    place = tmp_path / "faulty.html"
    place.write_text("<!DOCTYPE html><html lang=en><title>x</title><p><ul></p>", encoding="utf-8")
    command = ["java", "-jar", str(need(NU)), "--format", "json", str(place)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert any(item["type"] == "error" for item in json.loads(done.stderr)["messages"])
