"""Correlation of neighbours against slow, literal computation."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.drift.neighbours import lag_one
from weakstep.drift.splits import prepare, split_norms

RUNS = 60
NOBODY = np.zeros(RUNS, dtype=int)


def literal_lag_one(rest: np.ndarray) -> float:
    """Lag-1 correlation with the correction for what a fitted change costs."""
    r = float(rest[1:] @ rest[:-1] / (rest @ rest))
    return r + (6 + 11 * max(r, 0.0)) / len(rest)


def test_likeness_of_neighbours_matches_literal_computation() -> None:
    """The best step or template is taken out before neighbours are compared."""
    place = prepare(NOBODY, np.ones(1))
    series = np.random.default_rng(3).normal(size=(RUNS, 50))
    series = ((series - series.mean(axis=0)) / series.std(axis=0)).astype(np.float32)
    found = lag_one(series, place)
    norms = split_norms(NOBODY, np.ones(1))
    templates = np.vstack([place.ramps.rows, place.stretches.rows]).astype(float)
    for number, column in enumerate(series.T.astype(float)):
        steps = np.array([column[:k].sum() ** 2 / norms[k] for k in place.splits])
        fitted = (templates @ column) ** 2
        if steps.max() >= fitted.max():
            k = int(place.splits[steps.argmax()])
            rest = np.r_[column[:k] - column[:k].mean(), column[k:] - column[k:].mean()]
        else:
            template = templates[fitted.argmax()]
            rest = column - template * (template @ column)
        assert found[number] == pytest.approx(literal_lag_one(rest), abs=1e-5)


@pytest.mark.parametrize("phi", [0.0, 0.3, 0.6])
def test_likeness_of_neighbours_is_found(phi: float) -> None:
    """Over 2000 series of 150 the correlation is found on average within 0.02."""
    series = np.random.default_rng(4).normal(size=(150, 2000))
    for run in range(1, 150):
        series[run] = phi * series[run - 1] + np.sqrt(1 - phi**2) * series[run]
    series = (series - series.mean(axis=0)) / series.std(axis=0)
    found = lag_one(series.astype(np.float32), prepare(np.zeros(150, dtype=int), np.ones(1)))
    assert found.mean() == pytest.approx(phi, abs=0.02)
