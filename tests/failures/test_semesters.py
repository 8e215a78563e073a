"""The benchmark's loop runs on any backend that joblib knows."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest
from joblib import Parallel, delayed, parallel_config

BENCHMARK = Path(__file__).parents[1] / "benchmark"


@pytest.fixture(scope="module")
def benchmark():
    """Return the benchmark as a module; what it imports by file name goes again afterwards."""
    path, modules = list(sys.path), set(sys.modules)
    spec = importlib.util.spec_from_file_location("semesters", BENCHMARK / "semesters.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules["semesters"] = module
    spec.loader.exec_module(module)
    yield module
    sys.path[:] = path
    for name in {"semesters", "semesters_drawn", "conftest", "hazards", "rivals"} - modules:
        sys.modules.pop(name, None)


def test_two_backends_give_the_same_figures(benchmark):
    """One after the other, and two at a time in threads: the same semesters, the same answers."""
    cells = [("mixed", "clear", "missing20"), ("hazards", "clear", "plain")]
    results = []
    for backend, jobs in (("sequential", 1), ("threading", 2)):
        with parallel_config(backend=backend, n_jobs=jobs):
            rows = Parallel()(delayed(benchmark.judge)(cell, 3, 49) for cell in cells)
        results.append([{k: v for k, v in row.items() if k != "CPU seconds"} for row in rows])
    assert results[0] == results[1]
    assert {"first", "covers", "linear first", "ranks first"} <= set(results[0][0])
    assert "oracle first" in results[0][0]


def test_figures_come_with_standard_errors(benchmark):
    """Two of four: 0.5 with sqrt(0.25 / 4) = 0.25."""
    rows = [{"first": value} for value in (True, False, True, False)]
    assert benchmark.summary(rows) == ["first 0.500 (0.250)"]
