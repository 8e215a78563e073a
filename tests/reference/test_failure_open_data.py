"""
Open data sets that statsmodels carries, and published tables of counts, through the failure models.

- Gill, J. (2000), Generalized Linear Models: A Unified Approach: pupils at or above the median of
  mathematics in 303 California districts, 20 columns of which many are products (statsmodels'
  `star98`, public); binomial coefficients and errors as printed in statsmodels' documentation.
- Fair, R. C. (1978), Journal of Political Economy 86, 45-61: 6366 answers (statsmodels' `fair`,
  public); logit as printed in statsmodels' documentation.
- Miller, R. G. (1976), Biometrika 63, 449-464: survival after 69 heart transplants (statsmodels'
  `heart`, public).
- Crowder, M. J. (1978), Applied Statistics 27, 34-37: seeds that germinated on 21 plates; logit
  -0.558 (0.126) + 0.146 (0.223) seed + 1.318 (0.177) extract - 0.778 (0.306) both, Pearson
  chi-square 31.65 on 17 degrees of freedom: Breslow, N. E. & Clayton, D. G. (1993), J. Am. Stat.
  Assoc. 88, 9-25, table 2, and Collett, D., Modelling Binary Data, chapter 6.
- Venables, W. N. & Ripley, B. D. (2002), Modern Applied Statistics with S, section 7.2: low birth
  weight with ten columns.

Printed values are from memory; data as the packages carry them, the plates from memory.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.special import expit
from scipy.stats import CensoredData, weibull_min
from sklearn.linear_model import LogisticRegression
from statsmodels.datasets import fair, heart, star98
from statsmodels.duration.survfunc import SurvfuncRight, survdiff

from weakstep.failures.measured import hazard_scores, median_held, weibull
from weakstep.failures.profile import cluster_factor, firth_estimates
from weakstep.failures.reported import fit_reported
from weakstep.failures.roads import clustered_fit
from weakstep.failures.terms import Column

DATA = Path(__file__).parent / "data"


def ordinary(columns: dict[str, np.ndarray], failed: np.ndarray, tested: np.ndarray):
    """Return coefficients and standard errors of the fit without penalty, intercept first."""
    described = [Column(name, np.asarray(x, dtype=float), 1.0, "") for name, x in columns.items()]
    model = fit_reported(
        "family", described, np.ones((len(tested), 1)), ["intercept"], failed, tested, (), seed=0
    )
    return np.array([value for _, value, _ in model.unpenalised]), np.array(
        [error for _, _, error in model.unpenalised]
    )


STAR98 = [
    *(2.9589, -0.0168, 0.0099, -0.0187, -0.0142, 0.2545, 0.2407, 0.0804, -1.9522, -0.3341),
    *(-0.1690, 0.0049, -0.0036, -0.0141, -0.0040, -0.0039, 0.0917, 0.0490, 0.0080, 0.0002, -0.0022),
]


def test_pupils_of_303_districts():
    """Counts of hundreds, columns from 1e-4 to 1e4 that nearly depend on each other: 4 decimals."""
    data = star98.load_pandas()
    above = data.endog.iloc[:, 0].to_numpy().astype(int)
    pupils = data.endog.sum(axis=1).to_numpy().astype(int)
    columns = {str(name): data.exog[name].to_numpy() for name in data.exog.columns}
    coefficients, _ = ordinary(columns, above, pupils)
    np.testing.assert_allclose(coefficients, STAR98, atol=6e-5)
    # Firth's modified score, written out with leverages from a QR decomposition, is 0.
    design = np.column_stack([np.ones(303), *columns.values()])
    fit = firth_estimates(design, above, pupils, clustered=False)
    p = expit(design @ fit.coefficients)
    q = np.linalg.qr(design / np.abs(design).max(axis=0) * np.sqrt(pupils * p * (1 - p))[:, None])[
        0
    ]
    leverage = (q**2).sum(axis=1)
    score = design.T @ (above - pupils * p + leverage * (0.5 - p))
    assert np.abs(score * fit.standard_errors).max() < 1e-6


FAIR = {
    "intercept": (3.7257, 0.299),
    "occupation": (0.1602, 0.034),
    "educ": (-0.0392, 0.015),
    "occupation_husb": (0.0124, 0.023),
    "rate_marriage": (-0.7161, 0.031),
    "age": (-0.0605, 0.010),
    "yrs_married": (0.1100, 0.011),
    "children": (-0.0042, 0.032),
    "religious": (-0.3752, 0.035),
}


def test_answers_to_a_survey():
    """Coefficients to four decimals, errors to three; scikit-learn without penalty agrees."""
    table = fair.load_pandas().data
    columns = {name: table[name].to_numpy() for name in FAIR if name != "intercept"}
    outcome = (table.affairs > 0).to_numpy().astype(int)
    coefficients, errors = ordinary(columns, outcome, np.ones_like(outcome))
    printed = np.array(list(FAIR.values()))
    np.testing.assert_allclose(coefficients, printed[:, 0], atol=6e-5)
    np.testing.assert_allclose(errors, printed[:, 1], atol=6e-4)
    other = LogisticRegression(C=np.inf, tol=1e-10, max_iter=10_000, solver="newton-cholesky")
    other.fit(np.column_stack(list(columns.values())), outcome)
    np.testing.assert_allclose(coefficients[1:], other.coef_[0], rtol=1e-5)


SEEDS = [10, 23, 23, 26, 17, 5, 53, 55, 32, 46, 10, 8, 10, 8, 23, 0, 3, 22, 15, 32, 3]
ON_PLATE = [39, 62, 81, 51, 39, 6, 74, 72, 51, 79, 13, 16, 30, 28, 45, 4, 12, 41, 30, 51, 7]


@pytest.fixture
def plates():
    """Return columns and counts of the 21 plates."""
    seed, extract = np.repeat([0.0, 1.0], [11, 10]), np.repeat([0.0, 1.0, 0.0, 1.0], [5, 6, 5, 5])
    columns = {"seed": seed, "extract": extract, "both": seed * extract}
    return columns, np.array(SEEDS), np.array(ON_PLATE)


def test_plates_differ_more_than_chance_allows(plates):
    """The ordinary fit, and the factor by which chips of one run fail together: 31.65 / 17."""
    columns, germinated, seeds = plates
    coefficients, errors = ordinary(columns, germinated, seeds)
    np.testing.assert_allclose(coefficients, [-0.558, 0.146, 1.318, -0.778], atol=6e-4)
    np.testing.assert_allclose(errors, [0.126, 0.223, 0.177, 0.306], atol=6e-4)
    design = np.column_stack([np.ones(21), *columns.values()])
    phi = cluster_factor(design, coefficients, germinated, seeds)
    assert phi == pytest.approx(31.65 / 17, abs=0.005 / 17)


def test_plates_by_two_roads(plates):
    """Errors for clustered seeds are wider than counted seed by seed, and alike by both roads."""
    columns, germinated, seeds = plates
    design = np.column_stack([np.ones(21), *columns.values()])
    _, counted_singly = ordinary(columns, germinated, seeds)
    widened = firth_estimates(design, germinated, seeds).standard_errors
    coefficients, covariance = clustered_fit(design, germinated, seeds)
    sandwich = np.sqrt(np.diagonal(covariance))
    # Breslow & Clayton's table 2, by penalised quasi-likelihood with plates as random effects.
    quasi = np.array([-0.542, 0.077, 1.339, -0.825])
    assert (np.abs(coefficients - quasi) < 0.5 * sandwich).all()
    assert (widened > 1.2 * counted_singly).all()
    assert (sandwich > counted_singly).all()


def test_low_birth_weight_with_ten_columns():
    """Five decimals as printed, from the data recoded as in the book."""
    table = pd.read_csv(DATA / "birthwt_189.csv")
    columns = {
        "age": table.age,
        "lwt": table.lwt,
        "black": table.race == 2,
        "other": table.race == 3,
        "smoke": table.smoke,
        "ptd": table.ptl > 0,
        "ht": table.ht,
        "ui": table.ui,
        "ftv1": table.ftv == 1,
        "ftv2+": table.ftv >= 2,
    }
    outcome = table.low.to_numpy()
    coefficients, _ = ordinary(columns, outcome, np.ones_like(outcome))
    printed = [
        *(0.82302, -0.03723, -0.01565, 1.19241, 0.74068, 0.75553),
        *(1.34376, 1.91317, 0.68020, -0.43638, 0.17901),
    ]
    np.testing.assert_allclose(coefficients, printed, atol=1.5e-5)


def test_heart_transplants():
    """Median survival by the product-limit estimate; the log-rank test of younger against older."""
    table = heart.load_pandas().data
    days, died = table.survival.to_numpy(), table.censors.to_numpy().astype(bool)
    other = SurvfuncRight(days, died.astype(int))
    assert median_held(days, died) == other.quantile(0.5)
    older = (table.age > table.age.median()).to_numpy()
    scores = hazard_scores(days, died)
    observed_less_expected = scores[older].sum()
    chi2, _ = survdiff(days, died.astype(int), older.astype(int))
    variance = older.sum() * (~older).sum() / (69 * 68) * float((scores**2).sum())
    assert observed_less_expected**2 / variance == pytest.approx(chi2, rel=0.1)


def test_weibull_with_censored_lives():
    """SciPy's maximum likelihood on the same transplants."""
    table = heart.load_pandas().data
    days, died = table.survival.to_numpy(), table.censors.to_numpy().astype(bool)
    days = np.maximum(days, 0.5)
    shape, scale = weibull(days, died)
    other = weibull_min.fit(CensoredData.right_censored(days, ~died), floc=0)
    assert shape == pytest.approx(other[0], rel=1e-3)
    assert scale == pytest.approx(other[2], rel=1e-3)
