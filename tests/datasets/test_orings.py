"""
A real log that has nothing to do with chips: 23 flights with and without O-ring distress.

Dalal, Fowlkes and Hoadley 1989, "Risk analysis of the space shuttle: pre-Challenger prediction of
failure", JASA 84:945-957. The published logit of any distress on joint temperature in F is
15.0429 (standard error 7.3786) and -0.2322 (0.1082); leak-check pressure adds nothing once
temperature is in. Figures and the flights' dates, order and pressures are from memory.
"""

from __future__ import annotations

import pytest

from weakstep.reviewing import Review

PRINTED_TO = 0.5e-4  # the publication prints four digits after the point


def test_every_flight_is_read(orings_review: Review) -> None:
    """All 23 flights count, 7 of them with distress, and nothing is set aside."""
    tally = orings_review.failures.tally
    assert (tally.tested, tally.failed, tally.untested) == (23, 7, 0)
    assert len(orings_review.log.runs) == 23
    assert len(orings_review.log.set_aside) == 0


def test_temperature_is_named(orings_review: Review) -> None:
    """Evidence for temperature is strong, and its window starts above the launches below 63 F."""
    first = orings_review.failures.factors[0]
    assert (first.column, first.family, first.evidence) == ("temperature_f", "joint", "strong")
    assert first.window is not None
    assert first.window.lower is not None
    assert first.window.lower > 63
    assert first.window.upper is None
    assert first.preventable_share.lower <= first.preventable_share.estimate


def test_verdict_is_to_tighten_the_launch(orings_review: Review) -> None:
    """The verdict names the step, the parameter and its unit."""
    verdict = orings_review.failures.verdict
    assert verdict.action == "tighten"
    assert (verdict.step, verdict.column) == ("launch", "temperature_f")
    assert verdict.window is not None
    assert verdict.window.unit == "F"


def test_leak_check_pressure_is_acquitted(orings_review: Review) -> None:
    """The pressure of the leak check has no evidence against it."""
    pressure = [
        factor for factor in orings_review.failures.factors if factor.column == "leak_check_psi"
    ]
    assert [factor.evidence for factor in pressure] == ["none"]


def test_unpenalised_logit_is_the_published_one(orings_review: Review) -> None:
    """The ordinary fit in the details equals the published figures to the digits printed."""
    (model,) = (
        model
        for model in orings_review.failures.models
        if [term.name for term in model.terms] == ["intercept", "temperature_f"]
    )
    assert model.unpenalised is not None
    (_, intercept, intercept_se), (_, slope, slope_se) = model.unpenalised
    assert intercept == pytest.approx(15.0429, abs=PRINTED_TO)
    assert intercept_se == pytest.approx(7.3786, abs=PRINTED_TO)
    assert slope == pytest.approx(-0.2322, abs=PRINTED_TO)
    assert slope_se == pytest.approx(0.1082, abs=PRINTED_TO)
    assert model.separated == ()


def test_too_few_flights_to_judge_drift(orings_review: Review) -> None:
    """With 23 flights nothing is called drifted and nothing is called stable."""
    assert orings_review.drifts.drifts == ()
    assert {column for column, _ in orings_review.drifts.too_little} == {
        "temperature_f",
        "leak_check_psi",
    }
