"""
The 23 shuttle flights with O-ring distress, end to end.

Dalal, S. R., Fowlkes, E. B. & Hoadley, B. (1989), J. Am. Stat. Assoc. 84, 945-957: distress yes or
no against joint temperature (degrees F) and leak-check pressure (psi); logit 15.0429 (7.3786)
- 0.2322 (0.1082) x temperature, and pressure adds nothing (values, dates and pressures from memory;
temperatures and distress equal the published table).
"""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import norm

from weakstep.failures.analysis import analyse
from weakstep.failures.model import FailureAnalysis

TEMPERATURE = [
    *(66, 70, 69, 68, 67, 72, 73, 70, 57, 63, 70, 78),
    *(67, 53, 67, 75, 70, 81, 76, 79, 75, 76, 58),
]
PRESSURE = [*[50] * 6, *[100] * 2, *[200] * 9, 100, *[200] * 5]
DISTRESS = [0, 1, 0, 0, 0, 0, 0, 0, 1, 1, 1, 0, 0, 1, 0, 0, 0, 0, 0, 0, 1, 0, 1]

# The builder of logs lives beside the tests of the analysis.
BUILDER = Path(__file__).parents[1] / "failures" / "conftest.py"


@pytest.fixture(scope="module")
def analysis() -> FailureAnalysis:
    """Analyse the flights in order, without operators or dates."""
    spec = importlib.util.spec_from_file_location("failure_logs", BUILDER)
    builder = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(builder)
    parameters = (
        builder.make_parameter("temperature_f", 3, decimals=0, per=10.0, unit="F"),
        builder.make_parameter("pressure_psi", 1, decimals=0, per=50.0, unit="psi"),
    )
    numbers = {"temperature_f": np.array(TEMPERATURE), "pressure_psi": np.array(PRESSURE)}
    log = builder.make_log(
        numbers, {"seal": np.array(DISTRESS)}, np.ones(23, dtype=int), parameters=parameters
    )
    return analyse(log, seed=0)


def test_temperature_is_named_with_a_window_above_the_cold_launches(analysis):
    """All launches at 53 to 63 F had distress; the window starts above them."""
    first = analysis.factors[0]
    assert (first.column, first.evidence) == ("temperature_f", "strong")
    assert first.window.lower > 63
    assert first.window.upper is None
    assert first.preventable_share.lower <= first.preventable_share.estimate


def shapes_by_hand(values: list[int]) -> list[tuple[np.ndarray, bool, float]]:
    """Return the shapes of one column from their definitions, with their sidedness and weight."""
    u = np.clip(np.array(values, dtype=float), *np.quantile(values, [0.02, 0.98]))
    sd = u.std()
    found = [(u, False, 0.40)]
    for knot in np.quantile(u, [0.2, 0.4, 0.6, 0.8]):
        found += [(np.maximum(u - knot, 0), False, 0.015), (np.maximum(knot - u, 0), False, 0.015)]
        found.append((np.tanh((u - knot) / (0.5 * sd)), False, 0.0175))
    for knot in np.quantile(u, np.arange(1, 20) / 20):
        found.append((np.tanh((u - knot) / (0.15 * sd)), False, 0.06 / 19))
    for place in np.quantile(u, [0.5, 0.3, 0.7]):
        distance = np.abs(u - place)
        found += [(distance**2, True, 0.2 / 3), (np.tanh(distance / (3 * sd)), True, 0.03)]
        for inner in np.quantile(distance, [0.6, 0.8]):
            found.append((np.tanh((distance - inner) / (0.15 * sd)), True, 0.01))
    return found


def evidence_by_hand(shapes: list[tuple[np.ndarray, bool, float]], outcome: np.ndarray) -> float:
    """Return the weighted mean evidence of the shapes; z of a correlation is r sqrt(n - 1)."""
    total = []
    for column, one_sided, _ in shapes:
        z = np.corrcoef(column, outcome)[0, 1] * np.sqrt(len(outcome) - 1)
        half = 2 * norm.cdf(np.sqrt(0.9) * z) if one_sided else 1.0
        total.append(np.exp(0.45 * z**2) * half)
    return float(np.average(total, weights=[weight for *_, weight in shapes]))


def test_p_value_agrees_with_a_plain_loop(analysis):
    """Shapes and evidence written out by hand, other re-orderings.

    The bound is 4 standard errors of the difference of 1999 and 1000 re-orderings.
    """
    columns = []
    for values in (TEMPERATURE, PRESSURE):
        kept: list[tuple[np.ndarray, bool, float]] = []
        for column, one_sided, weight in shapes_by_hand(values):
            counts = np.unique(np.round(column, 9), return_counts=True)[1]
            if 23 - counts.max() < 5:
                continue
            if all(abs(np.corrcoef(column, one)[0, 1]) < 1 - 1e-9 for one, *_ in kept):
                kept.append((column, one_sided, weight))
        columns.append(kept)
    outcome = np.array(DISTRESS, dtype=float)
    observed = evidence_by_hand(columns[0], outcome)
    rng = np.random.default_rng(12)
    reached = 0
    for _ in range(1000):
        shuffled = rng.permutation(outcome)
        reached += max(evidence_by_hand(one, shuffled) for one in columns) >= observed * (1 - 1e-6)
    p = (1 + reached) / 1001
    bound = 4 * np.sqrt(p * (1 - p) * (1 / 1000 + 1 / 1999))
    assert analysis.factors[0].p == pytest.approx(p, abs=bound)


def test_pressure_is_acquitted(analysis):
    """Pressure adds nothing once temperature is in."""
    second = analysis.factors[1]
    assert (second.column, second.evidence) == ("pressure_psi", "none")
    assert second.p > 0.3


def test_ordinary_logit_is_in_the_details(analysis):
    """Within print rounding of the published coefficients and errors."""
    fit = {name: (value, error) for name, value, error in analysis.models[0].unpenalised}
    assert fit["intercept"] == pytest.approx((15.0429, 7.3786), abs=6e-5)
    assert fit["temperature_f"] == pytest.approx((-0.2322, 0.1082), abs=6e-5)


def test_verdict_names_step_window_and_evidence(analysis):
    """The sentence promises association, never cause."""
    verdict = analysis.verdict
    assert (verdict.action, verdict.column, verdict.step) == ("tighten", "temperature_f", "contact")
    assert "at or above" in verdict.sentence
    assert "linked to lower values" in verdict.sentence
    assert "cause" not in verdict.sentence
    assert any("fragile" in note for note in analysis.notes)
