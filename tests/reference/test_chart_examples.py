"""
Worked examples of control charts.

NIST/SEMATECH e-Handbook of Statistical Methods: 6.3.2.2 (individuals, flow rate), 6.3.3.1 (c chart
of wafer defects), 6.3.3.2 (p chart of 30 wafers with 50 chips each).
D. C. Montgomery, Introduction to Statistical Quality Control: individuals chart of loan costs; p
chart of 30 samples of 50 (the same counts), revised without samples 15 and 23; c chart of 26
circuit boards; mean and range of flow widths; mean and standard deviation of piston rings (limits
to five decimals computed apart from this package, the book prints 74.014 and 73.988). Published
figures of the book come from memory; the flow-rate figures were read in the handbook.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from weakstep.charts.attributes import np_chart, p_chart
from weakstep.charts.faults import c_chart, u_chart
from weakstep.charts.subgroups import mean_range, mean_sd
from weakstep.charts.variables import individuals

DATA = Path(__file__).parent / "data"


def column(file: str, name: str) -> np.ndarray:
    """One column of a data file as numbers."""
    with (DATA / file).open(encoding="utf-8") as rows:
        return np.array([float(row[name] or "nan") for row in csv.DictReader(rows)])


def test_nist_flow_rate() -> None:
    """Mean 50.81, mean moving range 1.8778, limits 55.8041 and 45.8159, no signal."""
    values = column("nist_flowrate.csv", "flowrate")
    chart, ranges = individuals(values)
    assert chart.limits.centre == pytest.approx(50.81, abs=5e-3)
    assert ranges.limits.centre == pytest.approx(1.8778, abs=5e-5)
    # The handbook divides by 1.128 where d2 = 1.12838: that moves a limit by 0.0017.
    assert chart.limits.upper[0] == pytest.approx(55.8041, abs=2e-3)
    assert chart.limits.lower[0] == pytest.approx(45.8159, abs=2e-3)
    by_handbook = 50.81 + 3 * ranges.limits.centre / 1.128
    assert by_handbook == pytest.approx(55.8041, abs=5e-5)
    assert chart.signals == ()
    published = column("nist_flowrate.csv", "moving_range_published")
    assert ranges.values == pytest.approx(published, abs=1e-9, nan_ok=True)


def test_loan_costs() -> None:
    """Mean 300.5, mean moving range 7.79, limits 321.22 and 279.78, moving-range limit 25.45."""
    chart, ranges = individuals(column("montgomery_loan_individuals.csv", "cost"))
    assert chart.limits.centre == pytest.approx(300.5, abs=1e-9)
    assert ranges.limits.centre == pytest.approx(7.79, abs=5e-3)
    # The book works with d2 = 1.128 and MRbar = 7.79: 3 * 7.79 / 1.128 is 0.0084 more than exact,
    # and it prints two decimals.
    assert chart.limits.upper[0] == pytest.approx(321.22, abs=0.0084 + 0.005)
    assert chart.limits.lower[0] == pytest.approx(279.78, abs=0.0084 + 0.005)
    by_book = 300.5 + 3 * 7.79 / 1.128
    assert by_book == pytest.approx(321.22, abs=0.005)
    assert ranges.limits.upper[0] == pytest.approx(25.45, abs=1e-2)
    assert ranges.limits.lower[0] == 0.0


def test_thirty_samples_of_fifty() -> None:
    """Mean share 0.2313, limits 0.4102 and 0.0524, samples 15 and 23 beyond them."""
    failed = column("p_chart_30x50.csv", "nonconforming")
    chart = p_chart(failed, np.full(30, 50))
    assert chart.limits.centre == pytest.approx(0.2313, abs=5e-5)
    assert chart.limits.upper[0] == pytest.approx(0.4102, abs=5e-5)
    assert chart.limits.lower[0] == pytest.approx(0.0524, abs=5e-5)
    beyond = [signal.at + 1 for signal in chart.signals if signal.pattern == "beyond_limit"]
    assert beyond == [15, 23]


def test_thirty_samples_revised() -> None:
    """Without samples 15 and 23 the mean is 0.2150 and the limits 0.3893 and 0.0407."""
    failed = np.delete(column("p_chart_30x50.csv", "nonconforming"), [14, 22])
    chart = p_chart(failed, np.full(28, 50))
    assert chart.limits.centre == pytest.approx(0.2150, abs=5e-5)
    assert chart.limits.upper[0] == pytest.approx(0.3893, abs=5e-5)
    assert chart.limits.lower[0] == pytest.approx(0.0407, abs=5e-5)
    assert np_chart(failed, 50).limits.upper[0] == pytest.approx(50 * 0.389297, abs=5e-5)


def test_nist_wafer_defects() -> None:
    """Centre 16, limits 28 and 4; wafer 24 is beyond, wafer 3 with exactly 28 is not."""
    defects = column("nist_wafer_defects_c.csv", "defects")
    chart = c_chart(defects)
    assert (chart.limits.centre, chart.limits.upper[0], chart.limits.lower[0]) == (16, 28, 4)
    assert defects[2] == 28
    beyond = [signal.at + 1 for signal in chart.signals if signal.pattern == "beyond_limit"]
    assert beyond == [24]
    assert u_chart(defects, np.ones(25)).limits.upper[0] == 28


def test_circuit_boards() -> None:
    """516 faults on 26 boards: 19.85 with limits 33.22 and 6.48 (made from the rounded mean)."""
    chart = c_chart(column("montgomery_pcb_c.csv", "nonconformities"))
    assert chart.limits.centre == pytest.approx(516 / 26)
    assert chart.limits.upper[0] == pytest.approx(33.22, abs=1e-2)
    assert chart.limits.lower[0] == pytest.approx(6.48, abs=1e-2)


def subgroups(file: str) -> np.ndarray:
    """Read the 25 subgroups of 5 of a data file."""
    return np.column_stack([column(file, name) for name in "abcde"])


def test_flow_width() -> None:
    """25 x 5 flow widths: mean 1.5056, mean range 0.32521, limits 1.69325, 1.31795, 0.68749."""
    means, ranges = mean_range(subgroups("montgomery_flow_width_xbar.csv"))
    assert means.limits.centre == pytest.approx(1.5056, abs=5e-5)
    assert ranges.limits.centre == pytest.approx(0.32521, abs=1e-5)
    # The book uses A2 = 0.577 (exact 0.57682: 6e-5 in a limit) and the mean rounded to 1.5056
    # (1.1e-5), and prints five decimals (5e-6).
    rounding = 6e-5 + 1.1e-5 + 5e-6
    assert means.limits.upper[0] == pytest.approx(1.69325, abs=rounding)
    assert means.limits.lower[0] == pytest.approx(1.31795, abs=rounding)
    assert ranges.limits.upper[0] == pytest.approx(0.68749, abs=2e-4)
    assert ranges.values.sum() == pytest.approx(8.1302, abs=5e-5)
    assert means.signals == ()


def test_piston_rings() -> None:
    """25 x 5 ring diameters: 74.001, mean s 0.0094, limits 74.014 and 73.988, s limit 0.0196."""
    means, spreads = mean_sd(subgroups("montgomery_piston_rings_xbar.csv"))
    assert means.limits.centre == pytest.approx(74.001, abs=5e-4)
    assert spreads.limits.centre == pytest.approx(0.0094, abs=5e-5)
    assert means.limits.upper[0] == pytest.approx(74.01459, abs=1e-5)
    assert means.limits.lower[0] == pytest.approx(73.98776, abs=1e-5)
    assert spreads.limits.upper[0] == pytest.approx(0.0196, abs=5e-5)
    assert spreads.values.sum() == pytest.approx(0.2351, abs=2e-4)
