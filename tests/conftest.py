"""Logs built by hand, from the builder that the failure tests use."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from pathlib import Path

import pytest

from weakstep.runlog.model import RunLog

BUILDER = Path(__file__).parent / "failures" / "conftest.py"


@pytest.fixture(scope="session")
def builder() -> object:
    """Return the module that builds logs."""
    spec = importlib.util.spec_from_file_location("failure_logs", BUILDER)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def log_of(builder: object) -> Callable[..., RunLog]:
    """Return the builder of logs."""
    made: Callable[..., RunLog] = builder.make_log  # type: ignore[attr-defined]
    return made
