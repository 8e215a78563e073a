"""Fixtures of the report's tests: the review that the file beside this one invents."""

from __future__ import annotations

from types import ModuleType

import pytest

from weakstep.reviewing import Review


@pytest.fixture(scope="session")
def review(invented: ModuleType) -> Review:
    """Return an invented review of 110 runs with dates, drifts and a verdict to tighten."""
    built: Review = invented.build_review()
    return built
