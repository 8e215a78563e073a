"""Fixtures of the report's tests: the invented review, loaded from the file beside this one."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest

from weakstep.reviewing import Review


@pytest.fixture(scope="session")
def invented() -> ModuleType:
    """Return the module that builds invented reviews."""
    place = Path(__file__).with_name("invented.py")
    spec = importlib.util.spec_from_file_location("weakstep_invented_review", place)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def review(invented: ModuleType) -> Review:
    """Return an invented review of 110 runs with dates, drifts and a verdict to tighten."""
    built: Review = invented.build_review()
    return built
