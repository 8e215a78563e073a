"""
The reported model against published tables of counts (from memory, as widely reprinted).

- Bliss, C. I. (1935), Annals of Applied Biology 22, 134-167: beetles killed by carbon disulphide;
  logit -60.72 (5.18) + 34.27 (2.91) x log10 dose, deviance 11.23 on 6 degrees of freedom: Dobson,
  A. J., An Introduction to Generalized Linear Models, table 7.2 and section 7.3.
- Norton, P. G. & Dunn, E. V. (1985), Br. Med. J. 291, 630-632: snoring (scores 0, 2, 4, 5) and
  heart disease; logit -3.87 + 0.40 x score: Agresti, A., An Introduction to Categorical Data
  Analysis, section 4.2.
- Steering Committee of the Physicians' Health Study (1988), N. Engl. J. Med. 318, 262-264: aspirin
  and heart attacks; odds ratio 1.83, 95 % 1.44 to 2.33: Agresti, section 2.3.
- Bickel, P. J., Hammel, E. A. & O'Connell, J. W. (1975), Science 187, 398-404: admissions to six
  departments; log odds ratio of rejection for men against women -0.61 alone and 0.10 (0.08) beside
  the departments: Agresti, Categorical Data Analysis.
- Tuyns, A. J. et al. (1977): alcohol and oesophageal cancer in six age groups; odds ratio 5.64
  alone, 5.31 beside age: Breslow, N. E. & Day, N. E. (1980), Statistical Methods in Cancer
  Research, volume 1, sections 4.2 and 6.5 (log odds ratio 1.670, standard error 0.190).
- Finney, D. J. (1947), Biometrika 34, 320-334: vasoconstriction; -2.875 (1.321) + 5.179 (1.865) log
  volume + 4.562 (1.838) log rate: Pregibon, D. (1981), Annals of Statistics 9, 705-724.
- McCullagh, P. & Nelder, J. A. (1989), Generalized Linear Models, section 6.3.2: damage to ships
  per month of service, Poisson regression; overdispersion 1.69.
- Hosmer, D. W. & Lemeshow, S., Applied Logistic Regression, Table 2.3: low birth weight.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from firthmodels import FirthLogisticRegression
from scipy.special import expit, xlog1py, xlogy

from weakstep.failures.model import FailureModel
from weakstep.failures.profile import cluster_factor, firth_estimates
from weakstep.failures.reported import fit_reported
from weakstep.failures.terms import Column

DATA = Path(__file__).parent / "data"


def reported(
    columns: dict[str, np.ndarray],
    failed: np.ndarray,
    tested: np.ndarray,
    background: np.ndarray | None = None,
) -> FailureModel:
    """Fit the reported model with these columns beside an intercept or another background."""
    described = [
        Column(name, np.asarray(values, dtype=float), 1.0, "") for name, values in columns.items()
    ]
    beside = np.ones((len(tested), 1)) if background is None else background
    names = ["intercept", *(f"group {i}" for i in range(1, beside.shape[1]))]
    return fit_reported("family", described, beside, names, failed, tested, (), seed=0)


def without_penalty(model: FailureModel) -> dict[str, tuple[float, float]]:
    """Return name -> (coefficient, standard error) of the ordinary fit."""
    return {name: (value, error) for name, value, error in model.unpenalised}


def deviance(model: FailureModel, design: np.ndarray, k: np.ndarray, m: np.ndarray) -> float:
    """Return twice the log likelihood lost against the saturated model."""
    p = expit(design @ [value for _, value, _ in model.unpenalised])
    saturated = xlogy(k, k / m) + xlogy(m - k, 1 - k / m)
    return float(2 * (saturated - xlogy(k, p) - xlog1py(m - k, -p)).sum())


def test_beetles():
    """Groups of about sixty, two decimals as printed."""
    dose = np.array([1.6907, 1.7242, 1.7552, 1.7842, 1.8113, 1.8369, 1.8610, 1.8839])
    tested = np.array([59, 60, 62, 56, 63, 59, 62, 60])
    killed = np.array([6, 13, 18, 28, 52, 53, 61, 60])
    model = reported({"dose": dose}, killed, tested)
    fit = without_penalty(model)
    assert fit["intercept"] == pytest.approx((-60.72, 5.18), abs=0.005)
    assert fit["dose"] == pytest.approx((34.27, 2.91), abs=0.005)
    design = np.column_stack([np.ones(8), dose])
    assert deviance(model, design, killed, tested) == pytest.approx(11.23, abs=0.005)


def test_snoring():
    """Four groups of hundreds; the penalty hardly moves them."""
    score, diseased = np.array([0.0, 2, 4, 5]), np.array([24, 35, 21, 30])
    tested = diseased + np.array([1355, 603, 192, 224])
    model = reported({"score": score}, diseased, tested)
    fit = without_penalty(model)
    assert fit["intercept"][0] == pytest.approx(-3.87, abs=0.005)
    assert fit["score"][0] == pytest.approx(0.40, abs=0.005)
    assert model.terms[1].coefficient.estimate == pytest.approx(0.40, abs=0.005)


def test_aspirin():
    """Odds ratio 1.83 (1.44 to 2.33): 189 of 11034 on placebo, 104 of 11037 on aspirin."""
    model = reported(
        {"placebo": np.array([1.0, 0.0])}, np.array([189, 104]), np.array([11034, 11037])
    )
    value, error = without_penalty(model)["placebo"]
    found = np.exp([value, value - 1.96 * error, value + 1.96 * error])
    np.testing.assert_allclose(found, [1.83, 1.44, 2.33], atol=0.005)
    # The reported interval is that of the profile, penalised: the same to the second decimal.
    odds = model.terms[1].odds_ratio
    assert (odds.lower, odds.upper) == pytest.approx((1.44, 2.33), abs=0.02)


ADMITTED = [(512, 89), (353, 17), (120, 202), (138, 131), (53, 94), (22, 24)]
REJECTED = [(313, 19), (207, 8), (205, 391), (279, 244), (138, 299), (351, 317)]


def test_admissions_look_unfair_alone_and_not_beside_the_department():
    """What a difference between operators does to an innocent parameter."""
    good, failed = np.array(ADMITTED).ravel(), np.array(REJECTED).ravel()
    man, department = np.tile([1.0, 0.0], 6), np.repeat(np.arange(6), 2)
    background = np.column_stack(
        [np.ones(12), *((department == place).astype(float) for place in range(1, 6))]
    )
    model = reported({"man": man}, failed, good + failed, background)
    assert without_penalty(model)["man"] == pytest.approx((0.0999, 0.0808), abs=6e-5)
    (road,) = model.roads
    assert np.log(road.alone.estimate) == pytest.approx(-0.61, abs=0.005)
    assert road.adjusted.lower < 1.0 < road.adjusted.upper


ALCOHOL_CASES = [(1, 0), (4, 5), (25, 21), (42, 34), (19, 36), (5, 8)]
ALCOHOL_CONTROLS = [(9, 106), (26, 164), (29, 138), (27, 139), (18, 88), (0, 31)]


def test_alcohol_beside_age():
    """Six strata; the odds ratio alone is 96 x 666 / (104 x 109)."""
    cases, controls = np.array(ALCOHOL_CASES).ravel(), np.array(ALCOHOL_CONTROLS).ravel()
    drinks, age = np.tile([1.0, 0.0], 6), np.repeat(np.arange(6), 2)
    background = np.column_stack(
        [np.ones(12), *((age == place).astype(float) for place in range(1, 6))]
    )
    model = reported({"drinks": drinks}, cases, cases + controls, background)
    assert without_penalty(model)["drinks"] == pytest.approx((1.670, 0.190), abs=6e-4)
    assert model.roads[0].alone.estimate == pytest.approx(5.64, abs=0.03)


def test_vasoconstriction():
    """39 single trials; the penalised fit agrees with a second implementation."""
    table = pd.read_csv(DATA / "finney_vaso.csv")
    columns = {"volume": np.log(table.Volume), "rate": np.log(table.Rate)}
    outcome = table.Y.to_numpy()
    model = reported(columns, outcome, np.ones_like(outcome))
    fit = without_penalty(model)
    assert fit["intercept"] == pytest.approx((-2.875, 1.321), abs=6e-4)
    assert fit["volume"] == pytest.approx((5.179, 1.865), abs=6e-4)
    assert fit["rate"] == pytest.approx((4.562, 1.838), abs=6e-4)
    other = FirthLogisticRegression(gtol=1e-8, xtol=1e-8, max_iter=200)
    other.fit(np.column_stack(list(columns.values())), outcome)
    ours = [term.coefficient.estimate for term in model.terms[1:]]
    np.testing.assert_allclose(ours, other.coef_, rtol=1e-6)


def test_ship_damage_and_its_overdispersion():
    """
    Incidents among months of service: a logit of rare failures is the published log rate.

    A month fails with a chance below one per cent, so coefficients agree to two decimals; printed
    are types B to E against A, years 65, 70 and 75 against 60, and the later period of operation.
    """
    table = pd.read_csv(DATA / "ship_accidents_40.csv")
    table = table[table.service > 0]
    columns = {f"type {kind}": table.type == kind for kind in "BCDE"}
    columns |= {f"year {year}": table.year == year for year in (65, 70, 75)}
    columns |= {"later": table.period == 75}
    failed, tested = table.incidents.to_numpy(), table.service.to_numpy()
    design = np.column_stack([np.ones(len(table)), *columns.values()]).astype(float)
    fit = firth_estimates(design, failed, tested, clustered=False)
    printed = [-6.41, -0.54, -0.69, -0.08, 0.33, 0.70, 0.82, 0.45, 0.38]
    # The penalty draws towards 0 by less than a fifth of a standard error (0.09 to 0.33).
    assert (np.abs(fit.coefficients - printed) < 0.2 * fit.standard_errors).all()
    ordinary = without_penalty(reported(columns, failed, tested))
    np.testing.assert_allclose([value for value, _ in ordinary.values()], printed, atol=0.011)
    coefficients = np.array([value for value, _ in ordinary.values()])
    assert cluster_factor(design, coefficients, failed, tested) == pytest.approx(1.69, abs=0.01)


def test_low_birth_weight_with_two_columns():
    """Table 2.3: weight and race; log likelihood -111.63."""
    table = pd.read_csv(DATA / "birthwt_189.csv")
    columns = {"lwt": table.lwt, "race2": table.race == 2, "race3": table.race == 3}
    outcome = table.low.to_numpy()
    model = reported(columns, outcome, np.ones_like(outcome))
    fit = without_penalty(model)
    printed = {"intercept": 0.806, "lwt": -0.015, "race2": 1.081, "race3": 0.481}
    for name, value in printed.items():
        assert fit[name][0] == pytest.approx(value, abs=6e-4)
    design = np.column_stack([np.ones(189), *columns.values()]).astype(float)
    ones = np.ones(189)
    assert deviance(model, design, outcome, ones) == pytest.approx(2 * 111.630, abs=0.002)
