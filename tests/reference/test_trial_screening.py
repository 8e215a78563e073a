"""
Screening designs, runs at the middle, and Lenth's margins, against published examples.

All printed values from memory:

- R. L. Plackett and J. P. Burman (1946), Biometrika 33, 305-325: the first row of the design of 12
  runs, + + - + + + - - - + -; NIST/SEMATECH e-Handbook 5.3.3.5: pairs are partly mixed with every
  other single effect. A second road is the library pydoe.
- D. C. Montgomery, Design and Analysis of Experiments: yield of a 2^2 with five centre runs (means
  40.425 and 40.46, sum of squares of curvature 0.0027, error mean square 0.043 on 4); the
  filtration 2^4 with four centre runs (mean 70.75, 1.51, 16.25 on 3); Lenth's margins of the
  filtration experiment, 2.571 x 2.625 = 6.75 and 5.219 x 2.625 = 13.70.
- C. F. J. Wu and M. S. Hamada, Experiments, appendix H: critical multiples of the pseudo standard
  error, individual 5 %: 2.30 for 7 effects, 2.16 for 15.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pydoe
import pytest
from scipy.stats import f as f_law
from statsmodels.regression.linear_model import OLS

from weakstep.errors import NotEnoughError
from weakstep.trials.curvature import bend
from weakstep.trials.designs import aliases, from_generators, suitable, two_level
from weakstep.trials.effects import contrast
from weakstep.trials.lenth import lenth_margins, pseudo_error
from weakstep.trials.screening import FIRST_ROWS, plackett_burman

FILTRATION = [45, 71, 48, 65, 68, 60, 80, 65, 43, 100, 45, 104, 75, 86, 70, 96]


@pytest.mark.parametrize("runs", list(FIRST_ROWS))
def test_all_columns_are_orthogonal(runs: int) -> None:
    """With a column of ones they make a Hadamard matrix, which is what defines the design."""
    whole = np.column_stack([np.ones(runs), plackett_burman(runs)])
    assert np.array_equal(whole.T @ whole, runs * np.eye(runs))


@pytest.mark.parametrize("runs", [12, 20])
def test_pairs_are_mixed_as_in_the_library(runs: int) -> None:
    """Products of three columns have the same sums, however rows and columns are arranged."""
    ours, theirs = plackett_burman(runs), np.asarray(pydoe.pbdesign(runs - 1), dtype=float)

    def threes(coded: np.ndarray) -> list[float]:
        places = combinations(range(coded.shape[1]), 3)
        return sorted(abs(coded[:, some].prod(axis=1).sum()) for some in map(list, places))

    assert threes(ours) == threes(theirs)


def test_a_third_of_each_pair_in_twelve_runs() -> None:
    """The effect of a pair is added to every other single effect by a third, up or down."""
    coded = plackett_burman(12)
    pair = coded[:, 0] * coded[:, 1]
    found = [contrast(coded[:, place], pair) / 2.0 for place in range(2, 11)]
    assert np.abs(found) == pytest.approx(1.0 / 3.0)
    assert abs(contrast(coded[:, 0], pair)) == pytest.approx(0.0)


def test_the_screening_design_is_taken_where_no_other_fits() -> None:
    """Nine factors in at most 12 runs; in 16 a fraction has room; more than 11 are refused."""
    design = suitable(9, 12)
    assert design.coded.shape == (12, 9)
    assert design.resolution_numeral == "III"
    assert [len(group) for group in aliases(design, 9)] == [1] * 9
    assert np.array_equal(from_generators(9, design.generators).coded, design.coded)
    assert suitable(9, 16).generators == "5=123 6=234 7=134 8=124 9=1234"
    with pytest.raises(ValueError, match="at most 11 combinations"):
        suitable(9, 11)
    with pytest.raises(ValueError, match="12 factors are more than the 11"):
        suitable(12)
    with pytest.raises(ValueError, match="no screening design of 10 runs"):
        plackett_burman(10)


@pytest.mark.parametrize(
    ("factors", "corners", "middle", "means", "squares", "error", "freedom"),
    [
        (2, [39.3, 40.9, 40.0, 41.5], [40.3, 40.5, 40.7, 40.2, 40.6], (40.425, 40.46), 0.0027,
         0.0430, 4),
        (4, FILTRATION, [73, 75, 66, 69], (70.0625, 70.75), 1.51, 16.25, 3),
    ],
    ids=["yield", "filtration"],
)  # fmt: skip
def test_curvature_as_printed(
    factors: int,
    corners: list[float],
    middle: list[float],
    means: tuple[float, float],
    squares: float,
    error: float,
    freedom: int,
) -> None:
    """Means, sum of squares and error to the digits printed; p from scipy's law of F."""
    coded = np.vstack([two_level(factors).coded, np.zeros((len(middle), factors))])
    found = bend(coded, [*corners, *middle])
    n_f, n_c = len(corners), len(middle)
    assert found.size.estimate == pytest.approx(means[1] - means[0])
    assert n_f * n_c * found.size.estimate**2 / (n_f + n_c) == pytest.approx(squares, abs=0.006)
    assert found.freedom == freedom
    assert found.f == pytest.approx(squares / error, rel=0.02)
    assert found.p == pytest.approx(f_law.sf(found.f, 1, freedom))


def test_curvature_by_the_library() -> None:
    """Repeated corners: statsmodels' contrast of cell means has the same test and interval."""
    rng = np.random.default_rng(8)
    coded = np.vstack([np.tile(two_level(2).coded, (3, 1)), np.zeros((4, 2))])
    outcome = rng.normal(size=16) + coded @ [1.0, -2.0] + 0.8 * ~coded.any(axis=1)
    cells, place = np.unique(coded, axis=0, return_inverse=True)
    columns = (place.reshape(-1)[:, None] == np.arange(5)).astype(float)
    weights = np.where(cells.any(axis=1), -0.25, 1.0)
    test = OLS(outcome, columns).fit().t_test(weights)
    found = bend(coded, outcome)
    assert found.size.estimate == pytest.approx(float(test.effect[0]))
    assert (found.size.lower, found.size.upper) == pytest.approx(tuple(test.conf_int()[0]))
    assert found.p == pytest.approx(float(test.pvalue))
    assert found.f == pytest.approx(float(test.tvalue.squeeze()) ** 2)


def test_a_bend_needs_its_runs() -> None:
    """No centre run, or nothing repeated: one sentence."""
    with pytest.raises(NotEnoughError, match="0 runs at the middle and 4 elsewhere"):
        bend(two_level(2).coded, [1.0, 2.0, 3.0, 4.0])
    with pytest.raises(NotEnoughError, match="at least one repeat"):
        bend([[-1.0], [1.0], [0.0]], [1.0, 2.0, 3.0])


def test_the_middle_of_one_factor_among_others() -> None:
    """Three levels crossed with two: statsmodels' contrast of the cell means."""
    rng = np.random.default_rng(9)
    cells = np.array([[a, b] for a in (-1.0, 0.0, 1.0) for b in (-1.0, 1.0)])
    coded = np.repeat(cells, 3, axis=0)
    outcome = rng.normal(size=18) + 2.0 * coded[:, 1] - 1.5 * coded[:, 0] ** 2
    weights = np.where(cells[:, 0] == 0.0, 0.5, -0.25)
    columns = (np.repeat(np.arange(6), 3)[:, None] == np.arange(6)).astype(float)
    test = OLS(outcome, columns).fit().t_test(weights)
    found = bend(coded, outcome, factor=0)
    assert (found.size.lower, found.size.upper) == pytest.approx(tuple(test.conf_int()[0]))
    assert found.p == pytest.approx(float(test.pvalue))


def test_margins_of_no_effect_are_refused() -> None:
    """A sentence instead of a division by nothing."""
    for margins in (lenth_margins, pseudo_error):
        with pytest.raises(ValueError, match="Found no effect; expected one or more"):
            margins([])


def test_margins_as_printed() -> None:
    """All 15 effects of the filtration experiment: 6.75 for one, 13.70 for all together."""
    coded = two_level(4).coded
    words = [some for size in range(1, 5) for some in combinations(range(4), size)]
    effects = [contrast(coded[:, list(some)].prod(axis=1), FILTRATION) for some in words]
    found = lenth_margins(effects)
    assert found.error == pytest.approx(2.625)
    assert found.freedom == 5.0
    assert found.individual == pytest.approx(2.571 * 2.625, abs=0.002)
    assert found.simultaneous == pytest.approx(5.219 * 2.625, abs=0.002)


@pytest.mark.parametrize(("effects", "printed"), [(7, 2.30), (15, 2.16)])
def test_pseudo_error_for_chance_alone(effects: int, printed: float) -> None:
    """
    40 000 trials of chance alone: 5 % of effects are beyond the printed multiple of the error.

    The t law of the margins asks for more than that, so they hold more often than they promise.
    """
    rng = np.random.default_rng(15)
    drawn = rng.normal(size=(40_000, effects))
    ratios = np.abs(drawn) / np.array([pseudo_error(one) for one in drawn])[:, None]
    assert np.quantile(ratios, 0.95) == pytest.approx(printed, abs=0.03)
    margins = lenth_margins(drawn[0])
    assert margins.individual / margins.error > printed
    together = (ratios.max(axis=1) <= margins.simultaneous / margins.error).mean()
    assert together >= 0.95 - 3 * np.sqrt(0.05 * 0.95 / 40_000)
