"""
Sizes of trials against printed tables and examples, all from memory, and by second roads.

- J. L. Fleiss (1981), Statistical Methods for Rates and Proportions, 2nd edition, table A.3
  (two-sided 5 %, power 0.80, with continuity correction): 72 for 0.10 and 0.30, 88 for 0.05 and
  0.20, 25 for 0.10 and 0.50; equations 3.14 (without) and 3.15 (with correction).
- R documentation, power.prop.test: n = 76.7 for 0.50 against 0.75 at power 0.90, and power 0.740
  for n = 50; power.t.test: power 0.8689528 for n = 20, delta = 1, sd = 1, and n = 22.02 for power
  0.90 (not run here).
- J. Cohen (1992), A power primer, Psychological Bulletin 112, 155-159, table 2: 64 and 26 at 5 %,
  95 and 38 at 1 %, 50 and 20 at 10 % for d = 0.5 and 0.8 (approximate sizes: the exact ones are
  the same or one more).
- A. Donner and N. Klar (2000): inflation by 1 + (m - 1) rho; m = 100 and rho = 0.01 give 1.99.
- Fleiss (1981), section 3.1: 827 for 0.60 against 0.70 at two-sided 1 % and power 0.95.
- Cohen (1988), Statistical Power Analysis for the Behavioral Sciences, table 6.4.1 (two-sided 5 %,
  power 0.80): 392, 63 and 25 for h = 0.20, 0.50 and 0.80 (rounded to the nearest).
- F. Y. Hsieh, D. A. Bloch and M. D. Larsen (1998), by simulation of the test that is planned.
"""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binom, chi2
from statsmodels.regression.linear_model import OLS
from statsmodels.stats.anova import anova_lm
from statsmodels.stats.power import NormalIndPower
from statsmodels.stats.proportion import (
    proportion_effectsize,
    samplesize_proportions_2indep_onetail,
)

from weakstep.failures.enough import chips_per_arm, design_effect, within_run_correlation
from weakstep.failures.firth import firth_fits
from weakstep.trials.means import mean_power, runs_for_means
from weakstep.trials.pairs import pairs_for_rates
from weakstep.trials.power import runs_at_each_level
from weakstep.trials.proportions import (
    chips_by_arcsine,
    chips_for_rates,
    inflation,
    power_for_rates,
)
from weakstep.trials.slopes import chips_for_groups, chips_for_slope


@pytest.mark.parametrize(
    ("one", "two", "printed"), [(0.10, 0.30, 72), (0.05, 0.20, 88), (0.10, 0.50, 25)]
)
def test_sizes_of_the_table_with_correction(one: float, two: float, printed: int) -> None:
    """Ours with the correction of the book is the printed size."""
    assert chips_for_rates(one, two, corrected=True) == (printed, printed)


def test_size_of_the_books_example() -> None:
    """827 in each group, at 1 % and 95 %."""
    assert chips_for_rates(0.60, 0.70, corrected=True, power=0.95, alpha=0.01) == (827, 827)


@pytest.mark.parametrize("ratio", [0.5, 1.0, 3.0])
@pytest.mark.parametrize("corrected", [False, True])
def test_unequal_groups_by_carrying_the_test_out(ratio: float, corrected: bool) -> None:
    """Exact power of the chi-square test, over every outcome: 80 % within 2.5 points."""
    one, two = chips_for_rates(0.15, 0.30, ratio=ratio, corrected=corrected)
    first, second = np.arange(one + 1)[:, None], np.arange(two + 1)[None, :]
    pooled = (first + second) / (one + two)
    off = np.abs(first / one - second / two) - corrected * (1.0 / one + 1.0 / two) / 2.0
    error = np.sqrt(np.clip(pooled * (1 - pooled), 1e-12, None) * (1.0 / one + 1.0 / two))
    seen = off / error > NormalDist().inv_cdf(0.975)
    power = (seen * binom.pmf(first, one, 0.15) * binom.pmf(second, two, 0.30)).sum()
    assert power == pytest.approx(0.80, abs=0.025)


def test_power_as_printed_and_back() -> None:
    """0.740 for 50 a group and 0.50 against 0.75; the size for a power has just that power."""
    assert power_for_rates(0.50, 0.75, 50) == pytest.approx(0.740, abs=5e-4)
    for ratio in (0.5, 1.0, 3.0):
        first, _ = chips_for_rates(0.1, 0.3, ratio=ratio)
        assert power_for_rates(0.1, 0.3, first, ratio=ratio) >= 0.80
        assert power_for_rates(0.1, 0.3, first - 1, ratio=ratio) < 0.80


def test_equal_groups_without_correction_are_the_first_formula() -> None:
    """The size of equal groups is that of `chips_per_arm`, rounded up; groups turn about."""
    assert chips_for_rates(0.5, 0.75, power=0.9) == (77, 77)
    assert chips_for_rates(0.2, 0.1, ratio=2.0) == chips_for_rates(0.1, 0.2, ratio=0.5)[::-1]


@pytest.mark.parametrize(("effect", "printed"), [(0.20, 392), (0.50, 63), (0.80, 25)])
def test_arcsine_sizes_as_printed(effect: float, printed: int) -> None:
    """Rates about one half that lie *h* apart: the printed size, or one more by rounding up."""
    low, high = (math.sin(math.pi / 4 + side * effect / 4) ** 2 for side in (-1, 1))
    found = chips_by_arcsine(low, high)
    assert found[0] == found[1]
    assert 0 <= found[0] - printed <= 1


@pytest.mark.parametrize("ratio", [0.5, 1.0, 2.0])
def test_arcsine_sizes_by_the_library(ratio: float) -> None:
    """Statsmodels' normal power with its own effect size gives as many."""
    found = chips_by_arcsine(0.3, 0.1, ratio=ratio)
    other = NormalIndPower().solve_power(
        proportion_effectsize(0.3, 0.1), alpha=0.05, power=0.80, ratio=ratio
    )
    assert found[0] == math.ceil(other - 1e-6)
    assert found[1] == math.ceil(ratio * other - 1e-6)


@pytest.mark.parametrize(("one", "two"), [(0.32, 0.12), (0.15, 0.05), (0.30, 0.20)])
@pytest.mark.parametrize("conditional", [False, True])
def test_pairs_by_carrying_the_test_out(one: float, two: float, conditional: bool) -> None:
    """Exact power of McNemar's test over every outcome: 80 % within 3 points; both are normal."""
    pairs = pairs_for_rates(one, two, conditional=conditional)
    apart = np.arange(1, pairs + 1)[:, None]
    first = np.arange(pairs + 1)[None, :]
    seen = np.abs(2 * first - apart) / np.sqrt(apart) > NormalDist().inv_cdf(0.975)
    chance = binom.pmf(apart, pairs, one + two) * binom.pmf(first, apart, one / (one + two))
    assert (seen * chance).sum() == pytest.approx(0.80, abs=0.03)


def test_binary_parameter_beside_others() -> None:
    """Hsieh: 1281 in all for 0.4 and 0.5 with power 0.95, over 1 - R^2 beside other parameters."""
    assert chips_for_groups(0.4, 0.5, power=0.95) == 1281
    alone = chips_for_groups(0.4, 0.5, 0.2, power=0.95)
    assert chips_for_groups(0.4, 0.5, 0.2, power=0.95, explained=0.36) == math.ceil(1994.71 / 0.64)
    assert alone == 1995
    assert chips_for_slope(0.5, 0.405, power=0.95, explained=0.36) == math.ceil(316.896 / 0.64)


@pytest.mark.parametrize(
    ("one", "two", "printed"), [(0.10, 0.30, 72), (0.05, 0.20, 88), (0.10, 0.50, 25)]
)
def test_simulated_size_lies_between_the_two_formulas(one: float, two: float, printed: int) -> None:
    """An exact test needs more than the size without correction; the corrected one is its bound."""
    found = runs_at_each_level((one, two), chips=1, correlation=0.0)
    assert found is not None
    assert chips_per_arm(one, two, 0.80, 0.05) <= found[0] <= printed


def test_size_without_correction_as_printed() -> None:
    """76.7 chips, to the digit printed; and by statsmodels' own formula within 3 %."""
    assert round(chips_per_arm(0.50, 0.75, 0.90, 0.05), 1) == 76.7
    other = samplesize_proportions_2indep_onetail(0.25, 0.50, 0.90, alpha=0.05)
    assert other == pytest.approx(chips_per_arm(0.50, 0.75, 0.90, 0.05), rel=0.03)


def test_t_test_as_printed() -> None:
    """Power 0.8689528 (that page leaves out the far tail, 3e-7) and 22.02 runs."""
    assert mean_power(1.0, 1.0, 20) == pytest.approx(0.8689528, abs=1e-6)
    assert runs_for_means(1.0, 1.0, power=0.90) == 23
    assert mean_power(1.0, 1.0, 22) == pytest.approx(0.90, abs=5e-4)


@pytest.mark.parametrize(
    ("effect", "alpha", "printed"),
    [(0.5, 0.05, 64), (0.8, 0.05, 26), (0.5, 0.01, 95), (0.8, 0.01, 38), (0.5, 0.10, 50),
     (0.8, 0.10, 20)],
)  # fmt: skip
def test_sizes_of_the_power_primer(effect: float, alpha: float, printed: int) -> None:
    """The same, or one more where the printed size is approximate."""
    assert 0 <= runs_for_means(effect, 1.0, alpha=alpha) - printed <= 1


def test_design_effect_as_printed() -> None:
    """Runs of 100 chips with a correlation of 0.01 by analysis of variance: 1 + 99 x 0.01."""
    rng = np.random.default_rng(6)
    tested = np.full(40, 100)
    failed = rng.binomial(100, rng.beta(0.2 * 99, 0.8 * 99, 40))
    rho = within_run_correlation(failed, tested)
    assert design_effect(failed, tested) == pytest.approx(1.0 + 99.0 * rho)
    assert inflation(100, 0.01) == pytest.approx(1.99)
    assert rho == pytest.approx(0.01, abs=0.006)


def test_correlation_by_a_librarys_analysis_of_variance() -> None:
    """Unequal runs: mean squares of the 0/1 outcomes by statsmodels' anova give the same rho."""
    rng = np.random.default_rng(7)
    tested = rng.integers(1, 6, 30)
    failed = rng.binomial(tested, rng.beta(1.0, 3.0, 30))
    run = np.repeat(np.arange(30), tested)
    outcome = np.concatenate([np.arange(m) < k for k, m in zip(failed, tested, strict=True)])
    frame = pd.DataFrame({"y": outcome.astype(float), "run": run.astype(str)})
    table = anova_lm(OLS.from_formula("y ~ run", frame).fit())
    between, within = table["mean_sq"].to_numpy()
    size = (tested.sum() - (tested**2).sum() / tested.sum()) / 29
    expected = (between - within) / (between + (size - 1.0) * within)
    assert within_run_correlation(failed, tested) == pytest.approx(expected, abs=1e-12)


def test_slope_size_by_simulation() -> None:
    """317 chips see an odds ratio of e^0.405 with 95 % chance: 600 studies, 2 points + 3 errors."""
    rng = np.random.default_rng(9)
    chips = chips_for_slope(0.5, 0.405, power=0.95)
    assert chips == 317
    values = rng.normal(size=(600, chips))
    failed = (rng.random((600, chips)) < 1.0 / (1.0 + np.exp(-0.405 * values))).astype(float)
    designs = np.stack([np.ones_like(values), values], axis=2)
    tested = np.ones_like(values)
    held = np.tile([False, True], (600, 1))
    ratio = 2.0 * (
        firth_fits(designs, failed, tested).log_likelihood
        - firth_fits(designs, failed, tested, held=held).log_likelihood
    )
    seen = float((chi2.sf(ratio, 1) <= 0.05).mean())
    assert seen == pytest.approx(0.95, abs=0.02 + 3.0 * math.sqrt(0.95 * 0.05 / 600))
