"""What stands behind the ranking, for other programs: models, modes by step, runs still needed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from weakstep.report.numbers import interval, number

if TYPE_CHECKING:
    from weakstep.failures.model import (
        FailureAnalysis,
        FailureModel,
        MeasuredOutcome,
        Needed,
        OddsByRoad,
        Suspicion,
        Term,
    )


def behind_the_ranking(analysis: FailureAnalysis) -> dict[str, Any]:
    """Return models, suspicions, measured outcomes and runs needed, as the README documents."""
    return {
        "models": [_model(one) for one in analysis.models],
        "suspicions": [_suspicion(one) for one in analysis.suspicions],
        "measured": [_measured(one) for one in analysis.measured],
        "needed": _needed(analysis.needed),
    }


def _model(model: FailureModel) -> dict[str, Any]:
    return {
        "family": model.family,
        "terms": [_term(term) for term in model.terms],
        "unpenalised": [
            {"name": name, "coefficient": number(value), "standard_error": number(error)}
            for name, value, error in model.unpenalised or ()
        ],
        "roads": [_road(road) for road in model.roads],
        "separated": list(model.separated),
        "auc": interval(model.auc),
        "brier": number(model.brier),
        "calibration_slope": number(model.calibration_slope),
        "calibration": [
            {
                "foretold": number(group.foretold),
                "observed": interval(group.observed),
                "chips": group.chips,
            }
            for group in model.calibration
        ],
        "notes": list(model.notes),
    }


def _term(term: Term) -> dict[str, Any]:
    return {
        "name": term.name,
        "coefficient": interval(term.coefficient),
        "odds_ratio": interval(term.odds_ratio),
        "per": term.per,
        "p": number(term.p),
    }


def _road(road: OddsByRoad) -> dict[str, Any]:
    return {
        "name": road.name,
        "per": road.per,
        "adjusted": interval(road.adjusted),
        "alone": interval(road.alone),
        "with_time": interval(road.with_time),
        "clustered": interval(road.clustered),
    }


def _suspicion(one: Suspicion) -> dict[str, Any]:
    return {
        "mode": one.mode,
        "family": one.family,
        "step": one.step,
        "suspected": one.suspected,
        "evidence": one.evidence,
        "column": one.column,
        "mode_p": number(one.mode_p),
        "mode_evidence": one.mode_evidence,
    }


def _measured(outcome: MeasuredOutcome) -> dict[str, Any]:
    return {
        "column": outcome.column,
        "failed": outcome.failed,
        "held": outcome.held,
        "median": number(outcome.median),
        "weibull_shape": number(outcome.weibull_shape),
        "weibull_scale": number(outcome.weibull_scale),
        "links": [
            {
                "column": link.column,
                "step": link.step,
                "shape": link.shape,
                "p": number(link.p),
                "p_week": number(link.p_week),
                "p_calendar": number(link.p_calendar),
                "evidence": link.evidence,
            }
            for link in outcome.links
        ],
    }


def _needed(needed: Needed | None) -> dict[str, Any] | None:
    if needed is None:
        return None
    return {
        "family": needed.family,
        "ratio": number(needed.ratio),
        "rate_low": number(needed.rate_low),
        "rate_high": number(needed.rate_high),
        "power": number(needed.power),
        "power_now": number(needed.power_now),
        "further_runs": interval(needed.further),
    }
