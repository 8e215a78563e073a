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


def test_p_value_is_that_of_an_independent_prototype(analysis):
    """A prototype of the screen gave .010; the bound is 4 standard errors of 1999 permutations."""
    error = np.sqrt(0.010 * 0.990 / 1999)
    assert analysis.factors[0].p == pytest.approx(0.010, abs=4 * error)


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
