"""
Worked factorials of the textbooks, and designs by another library.

All printed values from memory, to the digits the books print:

- D. C. Montgomery, Design and Analysis of Experiments: plasma etching 2^3 in two replicates
  (effects, error mean square 2252.56 on 8 degrees of freedom, standard error of an effect 23.73);
  the half fraction of the filtration experiment, D = ABC; the eye-focus experiment 2^(7-4); Lenth's
  pseudo standard error 2.625 and margin 6.75 of the full filtration experiment.
- G. E. P. Box, W. G. Hunter and J. S. Hunter, Statistics for Experimenters: pilot plant 2^3,
  process development 2^4, reactor 2^5 and its half fraction 5 = 1234, bicycle 2^(7-4).

Second roads: F. Yates' algorithm (1937, The Design and Analysis of Factorial Experiments), written
here from its description, and the designs and alias chains of the library pydoe.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pydoe
import pytest
from scipy.stats import t

from weakstep.trials.designs import GENERATORS, aliases, parse_generators, two_level
from weakstep.trials.effects import column_of, contrast, half_normal_quantiles, numeric_effects

LETTERS = "abcdefghijklmno"
ETCH = [[550, 604], [669, 650], [633, 601], [642, 635], [1037, 1052], [749, 868], [1075, 1063],
        [729, 860]]  # fmt: skip
PILOT = [60, 72, 54, 68, 52, 83, 45, 80]
DEVELOPMENT = [71, 61, 90, 82, 68, 61, 87, 80, 61, 50, 89, 83, 59, 51, 85, 78]
REACTOR = [61, 53, 63, 61, 53, 56, 54, 61, 69, 61, 94, 93, 66, 60, 95, 98,
           56, 63, 70, 65, 59, 55, 67, 65, 44, 45, 78, 77, 49, 42, 81, 82]  # fmt: skip


def effects_of(factors: int, outcome: list[float], generated: int = 0) -> dict[str, float]:
    """Return every effect as numeric_effects estimates it, by its digits ("12"), all aliases."""
    design = two_level(factors, generated)
    groups = aliases(design, factors, largest=factors if not generated else 2)
    found = numeric_effects(design.coded, outcome, groups)
    return {
        "".join(map(str, sorted(word))): effect.estimate.estimate
        for effect in found
        for word in effect.words
    }


def yates(outcome: list[float]) -> np.ndarray:
    """Return the effects in standard order by sums and differences of pairs; the mean first."""
    column = np.asarray(outcome, dtype=float)
    steps = round(np.log2(len(column)))
    for _ in range(steps):
        pairs = column.reshape(-1, 2)
        column = np.concatenate([pairs.sum(axis=1), pairs[:, 1] - pairs[:, 0]])
    return np.concatenate([[column[0] / len(column)], column[1:] / (len(column) / 2)])


@pytest.mark.parametrize(
    ("factors", "generated", "outcome", "mean", "printed"),
    [
        (3, 0, PILOT, 64.25,
         {"1": 23.0, "2": -5.0, "3": 1.5, "12": 1.5, "13": 10.0, "23": 0.0, "123": 0.5}),
        (4, 0, DEVELOPMENT, 72.25,
         {"1": -8.0, "2": 24.0, "3": -2.25, "4": -5.5, "12": 1.0, "13": 0.75, "14": 0.0,
          "23": -1.25, "24": 4.5, "34": -0.25, "123": -0.75, "124": 0.5, "134": -0.25,
          "234": -0.75, "1234": -0.25}),
        (5, 0, REACTOR, 65.5,
         {"1": -1.375, "2": 19.5, "3": -0.625, "4": 10.75, "5": -6.25, "24": 13.25, "45": -11.0}),
        (4, 1, [45, 100, 45, 65, 75, 60, 80, 96], 70.75,
         {"1": 19.0, "2": 1.5, "3": 14.0, "4": 16.5, "12": -1.0, "13": -18.5, "14": 19.0,
          "34": -1.0, "24": -18.5, "23": 19.0}),
        (7, 4, [69, 52, 60, 83, 71, 50, 59, 88], 66.5,
         {"1": 3.5, "2": 12.0, "3": 1.0, "4": 22.5, "5": 0.5, "6": 1.0, "7": 2.5}),
        (7, 4, [85.5, 75.1, 93.2, 145.4, 83.7, 77.6, 95.0, 141.8], 99.6625,
         {"1": 20.625, "2": 38.375, "3": -0.275, "4": 28.875, "5": -0.275, "6": -0.625,
          "7": -2.425}),
    ],
    ids=["pilot plant", "development", "reactor", "filtration, half", "bicycle", "eye focus"],
)  # fmt: skip
def test_effects_as_printed(
    factors: int, generated: int, outcome: list[float], mean: float, printed: dict[str, float]
) -> None:
    """Every printed effect, with its aliases where the design is a fraction."""
    found = effects_of(factors, outcome, generated)
    assert np.mean(outcome) == pytest.approx(mean)
    assert {name: found[name] for name in printed} == pytest.approx(printed, abs=1e-9)


def test_half_fraction_of_the_reactor() -> None:
    """5 = 1234: mean 65.25, 2: 20.5, 4: 12.25, 5: -6.25, 24: 10.75, 45: -9.5."""
    full = two_level(5).coded
    kept = column_of(full, frozenset(range(1, 6))) > 0.0
    y = np.array(REACTOR, dtype=float)[kept]
    design = two_level(5, 1)
    assert {tuple(row) for row in full[kept]} == {tuple(row) for row in design.coded}
    assert y.mean() == pytest.approx(65.25)
    printed = {(2,): 20.5, (4,): 12.25, (5,): -6.25, (2, 4): 10.75, (4, 5): -9.5}
    for word, value in printed.items():
        assert contrast(column_of(full[kept], frozenset(word)), y) == pytest.approx(value)


def test_plasma_etching_with_its_error() -> None:
    """Replicated 2^3: seven effects, and intervals from the error of 8 degrees of freedom."""
    coded = np.repeat(two_level(3).coded, 2, axis=0)
    groups = aliases(two_level(3), 3, largest=3)
    found = numeric_effects(coded, np.ravel(ETCH), groups)
    printed = {(1,): -101.625, (2,): 7.375, (3,): 306.125, (1, 2): -24.875, (1, 3): -153.625,
               (2, 3): -2.125, (1, 2, 3): 5.625}  # fmt: skip
    assert len(found) == len(printed)
    error = float(np.sqrt(2252.56 / 4.0))  # 4 sigma^2 / n with n = 16
    assert error == pytest.approx(23.73, abs=0.005)
    for effect in found:
        one = effect.estimate
        assert one.estimate == pytest.approx(printed[tuple(sorted(effect.words[0]))])
        assert one.upper - one.estimate == pytest.approx(float(t.ppf(0.975, 8)) * error, rel=1e-5)
    real = [
        effect.words[0]
        for effect in found
        if not effect.estimate.lower <= 0 <= effect.estimate.upper
    ]
    assert {tuple(sorted(word)) for word in real} == {(1,), (3,), (1, 3)}


def test_margin_of_the_unrepeated_filtration() -> None:
    """Lenth: pseudo standard error 2.625, margin of error 2.571 x 2.625 = 6.75."""
    y = [45, 71, 48, 65, 68, 60, 80, 65, 43, 100, 45, 104, 75, 86, 70, 96]
    found = numeric_effects(two_level(4).coded, y, aliases(two_level(4), 4, largest=4))
    for effect in found:
        reach = effect.estimate.upper - effect.estimate.estimate
        assert reach == pytest.approx(2.571 * 2.625, abs=0.005)


@pytest.mark.parametrize("outcome", [PILOT, DEVELOPMENT, REACTOR], ids=["2^3", "2^4", "2^5"])
def test_contrasts_by_the_algorithm_of_yates(outcome: list[float]) -> None:
    """Another road to every effect: no sign column is used."""
    factors = round(np.log2(len(outcome)))
    found = effects_of(factors, outcome)
    by_pairs = yates(outcome)
    assert by_pairs[0] == pytest.approx(np.mean(outcome))
    for place in range(1, 2**factors):
        name = "".join(str(bit + 1) for bit in range(factors) if place >> bit & 1)
        assert by_pairs[place] == pytest.approx(found[name], abs=1e-9), name


def letters_of(factors: int, generated: int) -> str:
    """Return the generator string of the library: "a b c abc"."""
    made = dict(parse_generators(GENERATORS[factors, generated]))
    return " ".join(
        "".join(LETTERS[part - 1] for part in sorted(made.get(factor, {factor})))
        for factor in range(1, factors + 1)
    )


@pytest.mark.parametrize(("factors", "generated"), list(GENERATORS))
def test_designs_of_the_library(factors: int, generated: int) -> None:
    """The library multiplies the same generators out to the same set of rows."""
    ours = two_level(factors, generated).coded
    theirs = pydoe.fracfact(letters_of(factors, generated))
    assert sorted(map(tuple, ours)) == sorted(map(tuple, theirs))


@pytest.mark.parametrize(("factors", "generated"), [(4, 1), (5, 2), (6, 2), (7, 3), (7, 4)])
def test_aliases_of_the_library(factors: int, generated: int) -> None:
    """Chains of one and two factors: two effects share a group exactly where the library says."""
    design = two_level(factors, generated)
    chains, _ = pydoe.fracfact_aliasing(pydoe.fracfact(letters_of(factors, generated)))
    theirs = {
        frozenset(pair)
        for chain in chains
        for pair in combinations([word for word in chain.split(" = ") if len(word) <= 2], 2)
    }
    ours = {
        frozenset("".join(LETTERS[factor - 1] for factor in sorted(word)) for word in pair)
        for group in aliases(design, factors)
        for pair in combinations(group, 2)
    }
    assert ours == theirs


def test_half_normal_quantiles_as_defined() -> None:
    """Daniel (1959): i-th smallest of n at the normal quantile of 0.5 + 0.5 (i - 0.5) / n."""
    found = half_normal_quantiles([4.0, -1.0, 3.0, -2.0])
    assert found == pytest.approx([1.5341, 0.1573, 0.8871, 0.4888], abs=5e-5)
