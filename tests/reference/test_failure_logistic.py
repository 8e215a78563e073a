"""
The ordinary logit beside the penalised one, against textbook tables (from memory, as printed).

- Spector & Mazzeo (1980) in Greene, W. H., Econometric Analysis: 32 students.
- Low birth weight, Hosmer, D. W. & Lemeshow, S., Applied Logistic Regression, Table 2.2.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from sklearn.linear_model import LogisticRegression

from weakstep.failures.reported import fit_reported
from weakstep.failures.terms import Column

DATA = Path(__file__).parent / "data"


def unpenalised(columns: dict[str, np.ndarray], outcome: np.ndarray) -> dict[str, tuple]:
    """Fit through the reported model and return name -> (coefficient, standard error)."""
    model = fit_reported(
        "family",
        [
            Column(name, np.asarray(values, dtype=float), 1.0, "")
            for name, values in columns.items()
        ],
        np.ones((len(outcome), 1)),
        ["intercept"],
        outcome,
        np.ones_like(outcome),
        (),
        seed=0,
    )
    assert model.separated == ()
    return {name: (value, error) for name, value, error in model.unpenalised}


def test_spector_and_mazzeo():
    """Four decimals as printed."""
    table = pd.read_csv(DATA / "spector_32.csv")
    columns = {name: table[name].to_numpy() for name in ("GPA", "TUCE", "PSI")}
    fit = unpenalised(columns, table.GRADE.to_numpy().astype(int))
    printed = {
        "intercept": (-13.0213, 4.9313),
        "GPA": (2.8261, 1.2629),
        "TUCE": (0.0952, 0.1416),
        "PSI": (2.3787, 1.0646),
    }
    for name, values in printed.items():
        assert fit[name] == pytest.approx(values, abs=6e-5)


def test_low_birth_weight():
    """Three decimals as printed; race is coded by two columns."""
    table = pd.read_csv(DATA / "birthwt_189.csv")
    columns = {
        "age": table.age,
        "lwt": table.lwt,
        "race2": table.race == 2,
        "race3": table.race == 3,
        "ftv": table.ftv,
    }
    fit = unpenalised(columns, table.low.to_numpy())
    printed = {
        "intercept": (1.295, 1.071),
        "age": (-0.024, 0.034),
        "lwt": (-0.014, 0.0065),
        "race2": (1.004, 0.498),
        "race3": (0.433, 0.362),
        "ftv": (-0.049, 0.167),
    }
    for name, values in printed.items():
        assert fit[name] == pytest.approx(values, abs=6e-4)


def test_second_road_without_penalty_agrees():
    """scikit-learn's logistic regression without penalty, to its solver's accuracy."""
    table = pd.read_csv(DATA / "spector_32.csv")
    columns = {name: table[name].to_numpy() for name in ("GPA", "TUCE", "PSI")}
    outcome = table.GRADE.to_numpy().astype(int)
    fit = unpenalised(columns, outcome)
    other = LogisticRegression(C=np.inf, tol=1e-10, max_iter=10_000, solver="newton-cg")
    other.fit(np.column_stack(list(columns.values())), outcome)
    ours = [fit[name][0] for name in columns]
    np.testing.assert_allclose(ours, other.coef_[0], rtol=1e-4)
