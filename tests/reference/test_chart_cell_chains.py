"""
Run lengths by cells, the road of the published tables, beside the integral equations.

D. Brook and D. A. Evans (1972), Biometrika 59, 539-549 (upward CUSUM, cells of width
2 h / (2 t - 1), with Richardson's refinement) and J. M. Lucas and M. S. Saccucci (1990),
Technometrics 32, 1-12 (EWMA by a chain of cells; their table, from memory, is in
data/weighted_run_lengths.csv). The two roads share no code but the normal distribution.
"""

from __future__ import annotations

import csv
import re
from pathlib import Path

import numpy as np
import pytest

from weakstep.charts import (
    cusum_run_length,
    cusum_run_length_by_cells,
    ewma_run_length,
    ewma_run_length_by_cells,
)

DATA = Path(__file__).parent / "data"


@pytest.mark.parametrize("shift", [0.0, 0.25, 0.5, 1.0, 2.0, 4.0])
@pytest.mark.parametrize(("k", "h"), [(0.25, 8.01), (0.5, 4.0), (0.5, 5.0), (1.0, 2.52)])
def test_upward_cusum_by_two_roads(k: float, h: float, shift: float) -> None:
    """Equal to one part in ten million, with and without a head start."""
    for start in (0.0, h / 2):
        cells = cusum_run_length_by_cells(k, h, shift, head_start=start, cells=100)
        exact = cusum_run_length(k, h, shift, head_start=start, two_sided=False)
        assert cells == pytest.approx(exact, rel=1e-7)


@pytest.mark.parametrize("shift", [0.0, 0.5, 1.0, 3.0])
@pytest.mark.parametrize(("weight", "width"), [(0.05, 2.615), (0.1, 2.814), (0.4, 3.054), (1, 3)])
def test_ewma_by_two_roads(weight: float, width: float, shift: float) -> None:
    """Equal to one part in a million, with and without a head start."""
    for start in (0.0, 0.2):
        cells = ewma_run_length_by_cells(weight, width, shift, head_start=start, cells=101)
        exact = ewma_run_length(weight, width, shift, head_start=start)
        assert cells == pytest.approx(exact, rel=1e-6)


def test_limits_of_nearly_no_width() -> None:
    """Every point signals at once, however small the cells are."""
    assert ewma_run_length_by_cells(0.2, 1e-90) == pytest.approx(1.0)
    assert cusum_run_length_by_cells(5.0, 1e-90) == pytest.approx(1 / 2.866515719e-7, rel=1e-6)


def test_error_falls_as_the_square_of_the_width() -> None:
    """Without refinement, half the width leaves a quarter of the error."""
    exact = cusum_run_length(0.5, 5.0, two_sided=False)
    errors = [
        cusum_run_length_by_cells(0.5, 5.0, cells=cells, refined=False) - exact
        for cells in (50, 100, 200)
    ]
    ratios = np.array(errors[:-1]) / errors[1:]
    assert ratios == pytest.approx(4.0, abs=0.1)


def test_published_table_by_its_own_road() -> None:
    """Lucas and Saccucci's cells (from memory) by a chain of cells, to 0.8 %."""
    with (DATA / "weighted_run_lengths.csv").open(encoding="utf-8") as lines:
        rows = [row for row in csv.DictReader(lines) if "Saccucci" in row["published_source"]]
    assert len(rows) >= 40
    for row in rows:
        weight, width = re.findall(r"=([\d.]+)", row["scheme"])
        shift = float(row["condition"].removeprefix("shift="))
        found = ewma_run_length_by_cells(float(weight), float(width), shift)
        half_a_digit = 0.051 if float(row["published"]) < 100 else 0.51
        close = max(half_a_digit, 8e-3 * float(row["published"]))
        assert found == pytest.approx(float(row["published"]), abs=close)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: cusum_run_length_by_cells(0.5, 5.0, cells=1), "cells must be a whole number"),
        (lambda: cusum_run_length_by_cells(0.5, 5.0, cells=9999), "cells must be at most 2000"),
        (lambda: cusum_run_length_by_cells(0.5, 5.0, head_start=5.0), "head_start from 0 to below"),
        (lambda: ewma_run_length_by_cells(0.1, 3.0, head_start=0.9), "within the limits"),
        (lambda: ewma_run_length_by_cells(0.0, 3.0), "weight must be above 0"),
    ],
)
def test_refusals(call, words: str) -> None:  # type: ignore[no-untyped-def]
    """One sentence names the argument."""
    with pytest.raises(ValueError, match=words):
        call()
