"""
Two-level designs against published generators and worked examples.

Generators: NIST/SEMATECH e-Handbook 5.3.3.4.7 (from memory; resolution and word lengths recomputed
here by another road: products of the columns themselves). Worked examples: NIST 5.6.1 (eddy
current) and 5.6.2 (sonoluminescence), printed mean and largest effects; D. C. Montgomery, Design
and Analysis of Experiments, pilot-plant filtration 2^4 and injection moulding 2^(6-2) with E = ABC,
F = BCD. Printed values from memory; those marked (computed) were first seen as computed ones.
"""

from __future__ import annotations

import csv
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from weakstep.trials.designs import GENERATORS, aliases, from_generators, two_level
from weakstep.trials.effects import column_of, contrast, numeric_effects

DATA = Path(__file__).parent / "data"
with (DATA / "fractional_factorial_generators.csv").open(encoding="utf-8") as stream:
    LISTED = list(csv.DictReader(stream))


def table(name: str) -> tuple[np.ndarray, np.ndarray]:
    """Return coded factors and outcome of a worked example."""
    with (DATA / name).open(encoding="utf-8") as stream:
        rows = np.array(list(csv.reader(stream))[1:], dtype=float)
    return rows[:, :-1], rows[:, -1]


@pytest.mark.parametrize("row", LISTED, ids=[row["design"] for row in LISTED])
def test_generators_and_resolution(row: dict[str, str]) -> None:
    """All 27 sets: resolution as stated, words found by multiplying the design's columns."""
    factors, generated = int(row["k"]), int(row["p"])
    design = two_level(factors, generated)
    assert GENERATORS[factors, generated] == row["generators"]
    assert len(design.coded) == int(row["runs"])
    assert design.resolution_numeral == row["resolution_stated"]
    lengths = [int(count) for count in row["wordlengths_A3_A4_A5_A6_A7_A8"].split("/")]
    # The pattern ends with the longest word; the list goes on with noughts.
    found = (*design.word_lengths, *[0] * len(lengths))
    assert list(found[: len(lengths)]) == lengths
    assert len(design.words) == 2**generated - 1
    # The other road: a word's column is all +1, and no shorter product is.
    for word in design.words:
        assert (column_of(design.coded, word) == 1.0).all()
    for size in range(1, design.resolution):
        for some in combinations(range(1, factors + 1), size):
            assert abs(column_of(design.coded, frozenset(some)).sum()) < len(design.coded)
    assert np.allclose(design.coded.T @ design.coded, len(design.coded) * np.eye(factors))


def test_all_sets_are_listed() -> None:
    """No generator set of the handbook is missing, and none was added."""
    assert {(int(row["k"]), int(row["p"])) for row in LISTED} == set(GENERATORS)
    assert len(GENERATORS) == 27


def test_eddy_current() -> None:
    """NIST 5.6.1: mean 2.65875, X1 3.10250, X2 -0.86750; others computed."""
    coded, y = table("doe_nist_eddy_2_3.csv")
    found = {group[0]: round(contrast(column_of(coded, group[0]), y), 5) for group in every(3)}
    assert y.mean() == pytest.approx(2.65875, abs=1e-9)
    assert found[frozenset({1})] == 3.10250
    assert found[frozenset({2})] == -0.86750
    assert found[frozenset({2, 3})] == 0.29750
    assert found[frozenset({1, 3})] == 0.24750
    assert found[frozenset({3})] == 0.21250
    assert found[frozenset({1, 2, 3})] == 0.14250
    assert found[frozenset({1, 2})] == 0.12750


def every(factors: int) -> tuple[tuple[frozenset[int], ...], ...]:
    """Return all effects of a full design."""
    return aliases(two_level(factors), factors, largest=factors)


def test_sonoluminescence() -> None:
    """NIST 5.6.2, 2^(7-3): mean 110.60625; x2 -78.6125, x7 -78.1125, x1 66.2125; x1x3 computed."""
    coded, y = table("doe_nist_sono_2_7_3.csv")
    design = from_generators(7, "5=234 6=134 7=123")  # the listed set, its factors renamed
    assert np.array_equal(coded, design.coded), "the same rows in the same order"
    assert design.resolution_numeral == "IV"
    groups = aliases(design, 7)
    found = {
        word: effect.estimate.estimate
        for effect in numeric_effects(coded, y, groups)
        for word in effect.words
    }
    assert y.mean() == pytest.approx(110.60625, abs=1e-9)
    assert found[frozenset({2})] == pytest.approx(-78.6125, abs=1e-9)
    assert found[frozenset({7})] == pytest.approx(-78.1125, abs=1e-9)
    assert found[frozenset({1})] == pytest.approx(66.2125, abs=1e-9)
    assert found[frozenset({3})] == pytest.approx(63.8125, abs=1e-9)
    assert found[frozenset({1, 3})] == pytest.approx(70.0125, abs=1e-9)


def test_filtration() -> None:
    """Montgomery, 2^4: A 21.625, C 9.875, D 14.625, AC -18.125, AD 16.625."""
    coded, y = table("doe_filtration_2_4.csv")
    groups = every(4)
    found = {
        effect.words[0]: effect.estimate.estimate for effect in numeric_effects(coded, y, groups)
    }
    printed = {(1,): 21.625, (3,): 9.875, (4,): 14.625, (1, 3): -18.125, (1, 4): 16.625}
    for word, value in printed.items():
        assert found[frozenset(word)] == pytest.approx(value, abs=1e-9)


def test_filtration_names_what_is_real() -> None:
    """Montgomery: A, C, D, AC and AD are real; Lenth's error calls these five and no other."""
    coded, y = table("doe_filtration_2_4.csv")
    real = {
        tuple(sorted(effect.words[0]))
        for effect in numeric_effects(coded, y, every(4))
        if not effect.estimate.lower <= 0.0 <= effect.estimate.upper
    }
    assert real == {(1,), (3,), (4,), (1, 3), (1, 4)}


def test_injection_moulding() -> None:
    """Montgomery, 2^(6-2): mean 27.3125, A 13.875, B 35.625, AB (= CE) 11.875."""
    coded, y = table("doe_injection_2_6_2.csv")
    design = two_level(6, 2)
    assert np.array_equal(coded, design.coded)
    found = {
        effect.words: effect.estimate.estimate
        for effect in numeric_effects(coded, y, aliases(design, 6))
    }
    assert y.mean() == pytest.approx(27.3125)
    assert found[frozenset({1}),] == pytest.approx(13.875)
    assert found[frozenset({2}),] == pytest.approx(35.625)
    assert found[frozenset({1, 2}), frozenset({3, 5})] == pytest.approx(11.875)


def test_contrast_is_least_squares_by_another_road() -> None:
    """Statsmodels' least squares gives the same effects (twice the coefficients)."""
    from statsmodels.regression.linear_model import OLS

    coded, y = table("doe_filtration_2_4.csv")
    groups = aliases(two_level(4), 4)
    ours = numeric_effects(coded, y, groups)
    columns = np.column_stack([np.ones(16), *(column_of(coded, group[0]) for group in groups)])
    fit = OLS(y, columns).fit()
    low, high = fit.conf_int(0.05)[1:].T
    assert [one.estimate.estimate for one in ours] == pytest.approx(2 * fit.params[1:])
    assert [one.estimate.lower for one in ours] == pytest.approx(2 * low)
    assert [one.estimate.upper for one in ours] == pytest.approx(2 * high)
