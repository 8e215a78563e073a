"""
Run lengths and chances of patterns.

Average run lengths of the 3-sigma chart: D. C. Montgomery, Introduction to Statistical Quality
Control (1/p, from memory of the book). Combinations of patterns: C. W. Champ and W. H. Woodall
(1987), Exact results for Shewhart control charts with supplementary runs rules, Technometrics 29,
393-399, table 1 (from memory). Single windows: data/runs_rules_probabilities.csv, arithmetic from
the definitions of Western Electric (1956) and Nelson (1984); exact average run lengths of one
pattern alone, computed apart from this package.
"""

from __future__ import annotations

import csv
from itertools import permutations
from pathlib import Path

import numpy as np
import pytest

from weakstep.charts.patterns import completions
from weakstep.charts.run_lengths import average_run_length, survival

DATA = Path(__file__).parent / "data" / "runs_rules_probabilities.csv"
WINDOWS = {
    row["rule"]: float(row["window_probability"])
    for row in csv.DictReader(DATA.read_text(encoding="utf-8").splitlines())
}
SHEWHART = {
    0: 370.40, 0.25: 281.15, 0.5: 155.22, 0.75: 81.22, 1: 43.89, 1.25: 24.96, 1.5: 14.97,
    1.75: 9.47, 2: 6.30, 2.25: 4.41, 2.5: 3.24, 2.75: 2.49, 3: 2.00, 3.5: 1.45, 4: 1.19,
}  # fmt: skip
ALONE = {
    "beyond_limit": 370.398,
    "eight_one_side": 255.0,
    "nine_one_side": 511.0,
    "two_of_three": 510.69,
    "four_of_five": 291.32,
    "fifteen_close": 963.27,
    "eight_far": 14251.4,
}
COMBINED = {
    ("beyond_limit", "two_of_three"): 225.44,
    ("beyond_limit", "four_of_five"): 166.05,
    ("beyond_limit", "eight_one_side"): 152.73,
    ("beyond_limit", "two_of_three", "four_of_five"): 132.89,
    ("beyond_limit", "two_of_three", "eight_one_side"): 122.05,
    ("beyond_limit", "four_of_five", "eight_one_side"): 105.78,
    ("beyond_limit", "two_of_three", "four_of_five", "eight_one_side"): 91.75,
}


@pytest.mark.parametrize(("shift", "printed"), SHEWHART.items())
def test_three_sigma_chart(shift: float, printed: float) -> None:
    """Average run length of the 3-sigma chart for shifts of 0 to 4 sigma, to two decimals."""
    assert average_run_length(["beyond_limit"], shift) == pytest.approx(printed, abs=5.1e-3)


@pytest.mark.parametrize(("name", "exact"), ALONE.items())
def test_one_pattern_alone(name: str, exact: float) -> None:
    """Exact average run length of each pattern by itself, to the digits given."""
    assert average_run_length([name]) == pytest.approx(exact, rel=1e-5)


@pytest.mark.parametrize(("names", "printed"), COMBINED.items())
def test_combined_patterns(names: tuple[str, ...], printed: float) -> None:
    """Champ and Woodall's table for a stable process, to two decimals."""
    assert average_run_length(names) == pytest.approx(printed, abs=5.1e-3)


@pytest.mark.parametrize(
    ("name", "window", "rule"),
    [
        ("beyond_limit", 1, "WE 1 / Nelson 1"),
        ("eight_one_side", 8, "WE 4"),
        ("nine_one_side", 9, "Nelson 2"),
        ("two_of_three", 3, "WE 2 / Nelson 5"),
        ("four_of_five", 5, "WE 3 / Nelson 6"),
        ("fifteen_close", 15, "Nelson 7"),
        ("eight_far", 8, "Nelson 8"),
    ],
)
def test_chance_in_a_single_window(name: str, window: int, rule: str) -> None:
    """Chance that a pattern is complete among just as many points as it looks at."""
    assert 1 - survival(window, [name])[-1] == pytest.approx(WINDOWS[rule], rel=1e-9)


def test_six_steady_over_all_orders() -> None:
    """Of the 720 orders of six values 2 rise or fall throughout: chance 0.0027778."""
    orders = np.array(list(permutations(range(6))), dtype=float)
    found = completions(orders, ["six_steady"])["six_steady"][:, -1]
    assert found.mean() == pytest.approx(WINDOWS["Nelson 3"], rel=1e-9)


def test_fourteen_alternating_by_simulation() -> None:
    """Twice Euler's zigzag number E14 over 14! = 0.0045736, within 3 standard errors of 200000."""
    z = np.random.default_rng(14).normal(size=(200_000, 14))
    share = completions(z, ["fourteen_alternating"])["fourteen_alternating"][:, -1].mean()
    expected = WINDOWS["Nelson 4"]
    assert share == pytest.approx(expected, abs=3 * np.sqrt(expected / 200_000))
