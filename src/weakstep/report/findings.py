"""Review -> findings.json: the numbers for other programs, in a stable order."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from weakstep.report.chart_findings import charts_found, tolerances_found
from weakstep.report.failure_findings import behind_the_ranking
from weakstep.report.history_findings import history_found
from weakstep.report.numbers import interval, number

if TYPE_CHECKING:
    from weakstep.drift.model import Drift
    from weakstep.failures.model import Factor, ModeCount, StepRank, Window
    from weakstep.reviewing import Review
    from weakstep.runlog.model import InputFile, Problem, RunTable
    from weakstep.trials.sizes import NextTrial

SCHEMA = "weakstep.findings/1"


def findings(review: Review) -> dict[str, Any]:
    """
    Return what the review found as plain dictionaries, lists, numbers and texts.

    Every key is always there; null stands where there is nothing to say, and for a number that
    is not finite. The same review gives the same result, key order included.

    Parameters
    ----------
    review : Review

    Returns
    -------
    dict
        Shares and probabilities are between 0 and 1; levels are in the parameter's unit.
    """
    log, analysis = review.log, review.failures
    return {
        "schema": SCHEMA,
        "weakstep": review.version,
        "made_at": review.made_at,
        "seed": review.seed,
        "inputs": [_input(item) for item in log.inputs],
        "process": {"name": log.process.name, "sha256": log.process.sha256},
        "log": {
            "rows_read": log.rows_read,
            "rows_used": len(log.chips),
            "rows_set_aside": len(log.set_aside),
            "cells_read_with_care": len(log.care),
            "problems": [_problem(problem) for problem in log.problems],
        },
        "outcomes": {
            "chips": analysis.tally.tested,
            "failed": analysis.tally.failed,
            "untested": analysis.tally.untested,
            "rate": interval(analysis.tally.rate),
            "modes": [_mode(mode) for mode in analysis.tally.modes],
        },
        "drifts": [_drift(review, drift) for drift in review.drifts.drifts],
        "factors": [_factor(factor) for factor in analysis.factors],
        "steps": [_step(step) for step in analysis.steps],
        "verdict": {
            "action": analysis.verdict.action,
            "family": analysis.verdict.family,
            "step": analysis.verdict.step,
            "column": analysis.verdict.column,
            "window": _window(analysis.verdict.window),
            "sentence": analysis.verdict.sentence,
        },
        "next_trial": _trial(review.next_trial),
        "events": [
            {
                "name": event.name,
                "kind": event.kind,
                "date": None if event.date is None else str(event.date),
                "columns": list(event.columns),
            }
            for event in review.events
        ],
        "history": history_found(review.history),
        "charts": charts_found(review),
        "tolerances": tolerances_found(review),
        **behind_the_ranking(analysis),
    }


def findings_text(review: Review) -> str:
    """Return findings.json as text; the same review gives the same bytes."""
    return json.dumps(findings(review), ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def run_at(runs: RunTable, index: int) -> dict[str, str | None]:
    """Return the run at *index* with its time to the second, null where unknown."""
    started = np.datetime64(runs.started_at[index], "s")
    return {
        "run_id": str(runs.run_id[index]),
        "started_at": None if np.isnat(started) else str(started),
    }


def _input(item: InputFile) -> dict[str, Any]:
    return {"file": item.file, "sha256": item.sha256, "rows": item.rows}


def _problem(problem: Problem) -> dict[str, Any]:
    return {
        "file": problem.file,
        "line": problem.line,
        "column": problem.column,
        "found": problem.found,
        "code": problem.code,
        "message": problem.message,
        "action": problem.action,
    }


def _mode(mode: ModeCount) -> dict[str, Any]:
    return {
        "mode": mode.mode,
        "family": mode.family,
        "count": mode.count,
        "share": number(mode.share.estimate),
    }


def _drift(review: Review, drift: Drift) -> dict[str, Any]:
    process, runs = review.log.process, review.log.runs
    described = process.has(drift.column)
    parameter = process.parameter(drift.column) if described else None
    return {
        "column": drift.column,
        "step": parameter.step if parameter else None,
        "form": drift.form,
        "since": run_at(runs, drift.since),
        "since_interval": [run_at(runs, end) for end in drift.since_interval],
        "before": number(drift.before),
        "after": number(drift.after),
        "unit": parameter.unit if parameter else None,
        "p": number(drift.p),
        "evidence": drift.evidence,
    }


def _factor(factor: Factor) -> dict[str, Any]:
    return {
        "family": factor.family,
        "column": factor.column,
        "step": factor.step,
        "rank": factor.rank,
        "preventable_share": interval(factor.preventable_share),
        "window": _window(factor.window),
        "effect": {
            "shape": factor.shape,
            "odds_ratio": interval(factor.odds_ratio),
            "per": factor.per,
        },
        "p": number(factor.p),
        "evidence": factor.evidence,
        "alike": list(factor.alike),
    }


def _step(step: StepRank) -> dict[str, Any]:
    return {
        "family": step.family,
        "step": step.step,
        "rank": step.rank,
        "preventable_share": interval(step.preventable_share),
        "evidence": step.evidence,
    }


def _window(window: Window | None) -> dict[str, Any] | None:
    if window is None:
        return None
    return {"lower": number(window.lower), "upper": number(window.upper), "unit": window.unit}


def _trial(trial: NextTrial | None) -> Mapping[str, Any] | None:
    if trial is None:
        return None
    return {
        "column": trial.column,
        "family": trial.family,
        "runs_per_arm": trial.runs_per_arm,
        "rate_now": number(trial.rate_now),
        "rate_hoped": number(trial.rate_hoped),
        "power": number(trial.power),
        "alpha": number(trial.alpha),
        "sentence": trial.sentence,
    }
