"""A real Chromium and the page of the invented review, opened from a file."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from types import ModuleType

import pytest
from playwright.sync_api import Browser, sync_playwright

from weakstep.report.write import write_report

ARGUMENTS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
)  # fmt: skip


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Yield a headless Chromium; fail with one sentence when there is none on this machine."""
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    if program is None:
        pytest.fail("No Chromium was found: install it (apt-get install chromium) and run again.")
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=program, args=list(ARGUMENTS))
        yield started
        started.close()


@pytest.fixture(scope="session")
def address(invented: ModuleType, tmp_path_factory: pytest.TempPathFactory) -> str:
    """Return the file address of the invented review's page."""
    folder = tmp_path_factory.mktemp("browser") / "report"
    return write_report(invented.build_review(), folder).as_uri()
