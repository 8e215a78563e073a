"""Fixtures of the report's tests: the review that the file beside this one invents."""

from __future__ import annotations

from collections.abc import Callable
from types import ModuleType

import pytest

from weakstep.reviewing import Review


@pytest.fixture(scope="session")
def review(invented: ModuleType) -> Review:
    """Return an invented review of 110 runs with dates, drifts and a verdict to tighten."""
    built: Review = invented.build_review()
    return built


@pytest.fixture(scope="session")
def spoken() -> Callable[[str], str]:
    """Return a function that puts plain spaces into a sentence of the page, for comparing."""

    def plain(text: str) -> str:
        return text.replace("\u00a0", " ").replace("\u202f", " ")

    return plain
