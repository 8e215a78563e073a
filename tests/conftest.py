"""Modules that several folders of tests share: builders of logs and of an invented review."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest

from weakstep.runlog.model import RunLog

HERE = Path(__file__).parent


def module_at(place: Path, name: str) -> ModuleType:
    """Load a module from its file: tests are no packages."""
    spec = importlib.util.spec_from_file_location(name, place)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def builder() -> ModuleType:
    """Return the module that builds logs by hand."""
    return module_at(HERE / "failures" / "conftest.py", "failure_logs")


@pytest.fixture(scope="session")
def log_of(builder: ModuleType) -> Callable[..., RunLog]:
    """Return the builder of logs."""
    made: Callable[..., RunLog] = builder.make_log
    return made


@pytest.fixture(scope="session")
def invented() -> ModuleType:
    """Return the module that builds invented reviews."""
    return module_at(HERE / "report" / "invented.py", "weakstep_invented_review")


@pytest.fixture(scope="session")
def findings_shape() -> ModuleType:
    """Return the module that says what findings.json looks like."""
    return module_at(HERE / "report" / "findings_shape.py", "weakstep_findings_shape")
