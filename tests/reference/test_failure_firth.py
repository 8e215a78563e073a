"""
Firth's penalised logit against published results, closed forms and a second implementation.

Endometrial cancer data (79 women; NV separates, so the ordinary fit has no maximum): Heinze, G. &
Schemper, M. (2002), Statistics in Medicine 21, 2409-2419. The ten-digit values were copied from
results on which three implementations agree.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from firthmodels import FirthLogisticRegression

from weakstep.failures.firth import firth_fits
from weakstep.failures.profile import firth_estimates
from weakstep.failures.separation import separating_columns

DATA = Path(__file__).parent / "data"
COEFFICIENTS = [3.774559714, 2.929273353, -0.03475175987, -2.604163925]
STANDARD_ERRORS = [1.488691663, 1.550763729, 0.03957814735, 0.7760176425]
LOWER = [1.082537108, 0.6097244363, -0.1244587209, -4.365183247]
UPPER = [7.209280498, 7.854631711, 0.04045547318, -1.232721057]
P = [0.004193627886, 0.009123667547, 0.3874822036, 2.506867215e-05]


@pytest.fixture(scope="module")
def endometrial() -> tuple[np.ndarray, np.ndarray]:
    """Return design (intercept, NV, PI, EH) and outcome."""
    table = pd.read_csv(DATA / "endometrial_79.csv")
    design = np.column_stack([np.ones(len(table)), table.NV, table.PI, table.EH])
    return design, table.HG.to_numpy()


def test_endometrial_estimates_agree_to_six_digits(endometrial):
    """Coefficients, profile ends and likelihood-ratio p-values; errors by Fisher information."""
    design, outcome = endometrial
    fit = firth_estimates(design, outcome, np.ones_like(outcome))
    np.testing.assert_allclose(fit.coefficients, COEFFICIENTS, rtol=1e-6)
    np.testing.assert_allclose(fit.standard_errors, STANDARD_ERRORS, rtol=1e-6)
    np.testing.assert_allclose(fit.lower, LOWER, rtol=1e-6)
    np.testing.assert_allclose(fit.upper, UPPER, rtol=1e-6)
    np.testing.assert_allclose(fit.p, P, rtol=1e-6)
    assert fit.log_likelihood == pytest.approx(-24.0372678, abs=5e-8)
    assert fit.phi == 1.0


def test_endometrial_separation_is_named(endometrial):
    """NV = 1 never occurs without the event; the other two columns do not separate."""
    design, outcome = endometrial
    names = ["intercept", "NV", "PI", "EH"]
    assert separating_columns(design, names, outcome, np.ones_like(outcome)) == ("NV",)


def test_one_rate_has_the_closed_form():
    """Firth (1993): log((k + 1/2) / (n - k + 1/2)), also for no failure and for all failed."""
    for failed in (0, 1, 5, 12):
        fit = firth_fits(np.ones((1, 1, 1)), np.array([failed]), np.array([12]))
        expected = np.log((failed + 0.5) / (12.5 - failed))
        assert fit.coefficients[0, 0] == pytest.approx(expected, abs=1e-9)


def test_two_by_two_table_adds_half_to_each_cell():
    """Firth (1993): in a saturated table the estimate is that of the table with 1/2 added."""
    design = np.array([[1.0, 0.0], [1.0, 1.0]])
    fit = firth_fits(design[None], np.array([0, 7]), np.array([9, 11]))
    first = np.log(0.5 / 9.5)
    np.testing.assert_allclose(fit.coefficients[0], [first, np.log(7.5 / 4.5) - first], atol=1e-9)


def test_many_designs_agree_with_a_second_implementation():
    """Twenty designs at once, against firthmodels one by one (coefficients to 1e-7)."""
    rng = np.random.default_rng(11)
    columns = rng.normal(size=(20, 60, 3))
    outcome = rng.binomial(1, 0.3, size=(20, 60))
    designs = np.concatenate([np.ones((20, 60, 1)), columns], axis=2)
    fits = firth_fits(designs, outcome, np.ones((20, 60)))
    for place in range(20):
        other = FirthLogisticRegression(gtol=1e-8, xtol=1e-8, max_iter=200)
        other.fit(columns[place], outcome[place])
        np.testing.assert_allclose(fits.coefficients[place, 0], other.intercept_, atol=1e-7)
        np.testing.assert_allclose(fits.coefficients[place, 1:], other.coef_, atol=1e-7)


def test_designs_of_a_semester_agree_to_eight_digits():
    """Six operators beside one parameter, 110 runs: what the odds ratios of a log are fitted to."""
    rng = np.random.default_rng(12)
    operators = np.eye(6)[rng.integers(0, 6, 110)][:, 1:]
    outcome = rng.binomial(1, 0.25, 110)
    designs = np.array(
        [np.column_stack([np.ones(110), rng.normal(size=110), operators]) for _ in range(10)]
    )
    fits = firth_fits(designs, outcome, np.ones(110))
    other = FirthLogisticRegression(gtol=1e-8, xtol=1e-8, max_iter=200, fit_intercept=False)
    for design, found in zip(designs, fits.coefficients, strict=True):
        np.testing.assert_allclose(found, other.fit(design, outcome).coef_, atol=1e-8)


def test_counts_and_single_chips_give_the_same_fit():
    """A run of m chips is m rows of one chip when chips are independent."""
    rng = np.random.default_rng(5)
    x, tested = rng.normal(size=30), rng.integers(1, 5, 30)
    failed = rng.binomial(tested, 0.4)
    runs = np.column_stack([np.ones(30), x])
    chips = np.repeat(runs, tested, axis=0)
    single = np.concatenate(
        [np.repeat([1, 0], [k, m - k]) for k, m in zip(failed, tested, strict=True)]
    )
    by_run = firth_estimates(runs, failed, tested, clustered=False)
    by_chip = firth_estimates(chips, single, np.ones_like(single), clustered=False)
    np.testing.assert_allclose(by_run.coefficients, by_chip.coefficients, atol=1e-8)
    np.testing.assert_allclose(by_run.lower, by_chip.lower, atol=1e-7)
    np.testing.assert_allclose(by_run.p, by_chip.p, atol=1e-8)
