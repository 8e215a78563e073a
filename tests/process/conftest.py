"""The built-in process, loaded once."""

from __future__ import annotations

import pytest

from weakstep.process.load import load_process
from weakstep.process.model import Process


@pytest.fixture(scope="module")
def built_in() -> Process:
    """Load the built-in process once."""
    return load_process()
