"""
Make the sample page of the demo semester again: python reports/make_sample.py.

Writes reports/semester (the light page, findings, summary, tables), and reports/semester.png when
Chromium and Playwright are there. The page carries no clock, so that it changes only when weakstep
does.
"""

from __future__ import annotations

import shutil
from pathlib import Path

from weakstep import load_process, read_log, review, write_report

HERE = Path(__file__).parent
LOGS = HERE.parent / "datasets" / "semester" / "logs"
COMMAND = "weakstep review datasets/semester/logs -o reports/semester --seed 0 --static"


def make_sample(folder: Path) -> Path:
    """Review the demo semester as `weakstep demo` does, into *folder*; return the light page."""
    result = review(read_log(LOGS, load_process()), command=COMMAND)
    return write_report(result, folder, static=True)


def make_picture(page: Path, picture: Path) -> None:
    """Photograph the top of the page at desktop width."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"),
            args=["--no-sandbox", "--disable-gpu", "--disable-background-networking"],
        )
        tab = browser.new_page(viewport={"width": 1060, "height": 1900})
        tab.goto(page.resolve().as_uri())
        tab.screenshot(path=picture)
        browser.close()


if __name__ == "__main__":
    sample = make_sample(HERE / "semester")
    print(f"The sample page: {sample}")
    if shutil.which("chromium"):
        make_picture(sample, HERE / "semester.png")
