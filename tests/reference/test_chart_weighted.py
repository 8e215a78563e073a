"""
EWMA and CUSUM charts, and their run lengths.

NIST/SEMATECH e-Handbook 6.3.2.4 (EWMA of 20 values: limits read in a secondary page, the values
from memory) and 6.3.2.3 (CUSUM of 20 group means, from memory). D. C. Montgomery, Introduction to
Statistical Quality Control, 30 values with a CUSUM (k = 0.5, h = 5) and an EWMA (weight 0.1,
L = 2.7), from memory. Run lengths: J. M. Lucas and R. B. Crosier (1982), Technometrics 24, 199-205;
J. M. Lucas and M. S. Saccucci (1990), Technometrics 32, 1-12, table for constant limits and zero
state; D. M. Hawkins (1993), Journal of Quality Technology 25, 248-261 (k and h for 370); all from
memory of the tables, all but a few cells equal to an independent computation (200 to 250
Gauss-Legendre nodes) in data/weighted_run_lengths.csv.
"""

from __future__ import annotations

import csv
import re
from pathlib import Path

import numpy as np
import pytest

from weakstep.charts.cusum_charts import cusum
from weakstep.charts.cusum_run_lengths import cusum_run_length
from weakstep.charts.ewma_run_lengths import ewma_run_length
from weakstep.charts.set_limits import cusum_decision, ewma_width
from weakstep.charts.siegmund import siegmund_run_length
from weakstep.charts.weighted import ewma

DATA = Path(__file__).parent / "data"


def table(file: str) -> dict[str, np.ndarray]:
    """Columns of a data file as numbers."""
    with (DATA / file).open(encoding="utf-8") as rows:
        found = list(csv.DictReader(rows))
    return {name: np.array([float(row[name]) for row in found]) for name in found[0]}


def lengths(words: str) -> list[tuple[list[float], float, str, float]]:
    """Rows of the run-length table whose scheme matches: numbers, shift, printed, computed."""
    with (DATA / "weighted_run_lengths.csv").open(encoding="utf-8") as rows:
        return [
            (
                [float(number) for number in re.findall(r"(?<==)[\d.]+", row["scheme"])],
                float(row["condition"].split("=")[1]),
                row["published"],
                float(row["computed"]),
            )
            for row in csv.DictReader(rows)
            if re.match(words, row["scheme"])
        ]


def test_nist_ewma() -> None:
    """Weight 0.3, target 50, s 2.0539: limits 52.5884 and 47.4115, last mean 51.99, no signal."""
    columns = table("nist_ewma.csv")
    chart = ewma(columns["x"], target=50.0, sigma=2.0539, weight=0.3, constant_limits=True)
    assert chart.limits.upper[0] == pytest.approx(52.5884, abs=5e-5)
    # Printed as 47.4115, exactly 47.41157: cut, not rounded.
    assert chart.limits.lower[0] == pytest.approx(47.4115, abs=1e-4)
    assert chart.values == pytest.approx(columns["ewma_published_2dp"], abs=5.001e-3)
    assert chart.values[-1] == pytest.approx(51.99, abs=5e-3)
    assert chart.signals == ()


def test_nist_cusum() -> None:
    """Target 325, k 0.3175, h 4.1959: sums to two decimals, first signal at group 14."""
    columns = table("nist_cusum.csv")
    scale = 0.635
    sums = cusum(
        columns["x"], target=325.0, sigma=scale, allowance=0.3175 / scale, decision=4.1959 / scale
    )
    assert sums.up.values == pytest.approx(columns["S_hi"], abs=1e-4)
    assert sums.down.values == pytest.approx(columns["S_lo"], abs=1e-4)
    printed = [3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04]
    assert sums.up.values[12:] == pytest.approx(printed, abs=5.1e-3)
    assert [signal.at + 1 for signal in sums.up.signals] == [14, 15, 16, 17, 18, 19, 20]
    assert sums.down.signals == ()


def test_thirty_values_cusum() -> None:
    """The upper sum first signals at 29 with 5.28, seven points after it left 0, then 5.3."""
    columns = table("montgomery_cusum_ewma_30.csv")
    sums = cusum(columns["x"], target=10.0, sigma=1.0)
    assert sums.up.values == pytest.approx(columns["C_plus"], abs=1e-9)
    assert sums.down.values == pytest.approx(columns["C_minus"], abs=1e-9)
    assert sums.up.values[[28, 29]] == pytest.approx([5.28, 5.30], abs=5e-3)
    assert [signal.at + 1 for signal in sums.up.signals] == [29, 30]
    assert sums.up_since[28] == 7
    assert sums.up_since.tolist() == columns["N_plus"].astype(int).tolist()


def test_thirty_values_ewma() -> None:
    """Weight 0.1 and L 2.7: limits grow to 10.62 and 9.38; points 29 and 30 are beyond them."""
    columns = table("montgomery_cusum_ewma_30.csv")
    chart = ewma(columns["x"], target=10.0, sigma=1.0, weight=0.1, width=2.7)
    assert chart.values == pytest.approx(columns["ewma_l0.1"], abs=6e-6)
    assert chart.limits.upper == pytest.approx(columns["ewma_ucl_L2.7"], abs=6e-6)
    assert chart.limits.lower == pytest.approx(columns["ewma_lcl_L2.7"], abs=6e-6)
    assert chart.limits.upper[-1] == pytest.approx(10.62, abs=5e-3)
    assert [signal.at + 1 for signal in chart.signals] == [29, 30]
    constant = ewma(
        columns["x"], target=10.0, sigma=1.0, weight=0.1, width=2.7, constant_limits=True
    )
    assert constant.limits.lower[0] == pytest.approx(9.38058, abs=5e-6)


@pytest.mark.parametrize("sides", ["two", "one"])
def test_cusum_run_lengths(sides: str) -> None:
    """Lucas and Crosier's table to its digits, the independent computation to seven."""
    rows = lengths(f"{sides}-sided CUSUM k")
    assert len(rows) == (20 if sides == "two" else 2)
    for (allowance, decision), shift, printed, computed in rows:
        found = cusum_run_length(allowance, decision, shift, two_sided=sides == "two")
        assert found == pytest.approx(computed, rel=2e-7)
        assert found == pytest.approx(float(printed), rel=4e-3)


# k = 0.5, h = 5, head start 2.5: Lucas and Crosier (1982), from memory.
HEAD_START = {0: 430, 0.25: 122, 0.5: 28.7, 0.75: 11.2, 1: 6.35, 1.5: 3.37, 2: 2.36}


@pytest.mark.parametrize(("shift", "printed"), HEAD_START.items())
def test_cusum_with_a_head_start(shift: float, printed: float) -> None:
    """The fast initial response, to the printed three digits."""
    found = cusum_run_length(0.5, 5.0, shift, head_start=2.5)
    assert found == pytest.approx(printed, abs=0.5 * 10 ** (np.floor(np.log10(printed)) - 2))


@pytest.mark.parametrize(
    ("allowance", "printed"),
    [(0.25, 8.01), (0.5, 4.77), (0.75, 3.34), (1, 2.52), (1.25, 1.99), (1.5, 1.61)],
)
def test_cusum_limits_for_370(allowance: float, printed: float) -> None:
    """Limits for an average run length of 370, printed to two decimals (some cut, not rounded)."""
    assert cusum_decision(allowance, run_length=370.0) == pytest.approx(printed, abs=1.01e-2)


def test_siegmund() -> None:
    """K 0.5 and h 5: 938.2 one-sided; 10.34 for a shift of 1."""
    assert siegmund_run_length(0.5, 5.0) == pytest.approx(938.2, abs=0.05)
    up, down = siegmund_run_length(0.5, 5.0, [1.0, -1.0])
    assert 1 / (1 / up + 1 / down) == pytest.approx(10.34, abs=5e-3)
    assert siegmund_run_length(30.0, 20.0, -50.0) == np.inf


def test_ewma_run_lengths() -> None:
    """Lucas and Saccucci's table within its rounding, the independent computation to seven."""
    rows = lengths("EWMA")
    assert len(rows) == 50 + 44
    printed_cells = 0
    for (weight, width), shift, printed, computed in rows:
        found = ewma_run_length(weight, width, shift)
        assert found == pytest.approx(computed, rel=2e-7)
        if printed:
            # The paper's Markov chain differs by up to 0.5 %; short run lengths have one decimal.
            assert found == pytest.approx(float(printed), rel=5e-3, abs=0.051)
            printed_cells += 1
    assert printed_cells == 50


@pytest.mark.parametrize(
    ("width", "weight"), [(3.054, 0.40), (2.998, 0.25), (2.962, 0.20), (2.814, 0.10), (2.615, 0.05)]
)
def test_ewma_widths_for_500(width: float, weight: float) -> None:
    """Widths for an average run length of 500, to three decimals."""
    assert ewma_width(weight, run_length=500.0) == pytest.approx(width, abs=6e-4)
