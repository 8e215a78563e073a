"""The review of the demo semester finds what was planted, and acquits the innocent."""

from __future__ import annotations

import numpy as np
from scipy import stats

from weakstep.failures.model import Factor
from weakstep.reviewing import Review

EXPOSURE = {"plasma_s", "plasma_dose_j"}  # the dose is the exposure times a constant power
WEIGHING = {"ratio", "base_g", "agent_g"}


def _factors(review: Review, columns: set[str]) -> list[Factor]:
    return [factor for factor in review.failures.factors if factor.column in columns]


def test_delay_is_strong_with_a_window_at_its_knee(semester_review: Review) -> None:
    """Delay harms beyond 65 s: evidence strong, and an upper limit not far from there."""
    (delay,) = (
        factor for factor in _factors(semester_review, {"delay_s"}) if factor.family == "bond"
    )
    assert delay.evidence == "strong"
    assert delay.window is not None
    assert delay.window.lower is None
    assert delay.window.upper is not None
    assert 40 <= delay.window.upper <= 100
    assert delay.preventable_share.lower > 0


def test_exposure_is_strong_with_two_ends(semester_review: Review) -> None:
    """Exposure harms on both sides of 35 s: evidence strong, and a window around it."""
    strong = [
        factor for factor in _factors(semester_review, EXPOSURE) if factor.evidence == "strong"
    ]
    assert strong
    (plasma,) = (
        factor for factor in _factors(semester_review, {"plasma_s"}) if factor.family == "bond"
    )
    assert plasma.window is not None
    assert plasma.window.lower is not None
    assert plasma.window.upper is not None
    assert 20 < plasma.window.lower < 35 < plasma.window.upper < 60


def test_verdict_is_to_tighten_one_of_the_planted_causes(semester_review: Review) -> None:
    """The first thing to do is one of the two planted causes."""
    verdict = semester_review.failures.verdict
    assert verdict.action == "tighten"
    assert verdict.column in EXPOSURE | {"delay_s"}


def test_the_careless_weigher_looks_guilty(semester_review: Review) -> None:
    """Failed chips have higher ratios than good ones: Mann-Whitney test, operators ignored."""
    chips = semester_review.log.chips
    known = chips[chips["ratio"].notna() & (chips["made"] > 0)]
    failed = known.loc[known["failed"] > 0, "ratio"]
    good = known.loc[known["failed"] == 0, "ratio"]
    assert stats.mannwhitneyu(failed, good, alternative="greater").pvalue < 0.01


def test_the_careless_weigher_is_acquitted(semester_review: Review) -> None:
    """Within operators the ratio and both masses have no evidence against them."""
    weighing = _factors(semester_review, WEIGHING)
    assert {factor.column for factor in weighing} == WEIGHING
    assert {factor.evidence for factor in weighing} == {"none"}


def test_nothing_else_is_accused(semester_review: Review) -> None:
    """No parameter but the planted causes is strong, least of all those that only moved."""
    strong = {
        factor.column for factor in semester_review.failures.factors if factor.evidence == "strong"
    }
    assert strong <= EXPOSURE | {"delay_s"}


def test_pump_down_drifted(semester_review: Review) -> None:
    """Pump-down grows by 1.5 % a week: called drifted, strongly, and upwards."""
    drift = next(drift for drift in semester_review.drifts.drifts if drift.column == "pumpdown_s")
    assert drift.evidence == "strong"
    assert drift.form == "ramp" or "ramp" in drift.other_forms
    assert 1.05 < drift.after / drift.before < 1.35


def test_the_oven_stepped_after_its_repair(semester_review: Review) -> None:
    """The oven reads about 4.5 C more from Monday 4 May on; the interval covers that run."""
    drift = next(drift for drift in semester_review.drifts.drifts if drift.column == "cure_c")
    assert (drift.form, drift.evidence) == ("step", "strong")
    assert 3.5 < drift.after - drift.before < 5.5
    starts = semester_review.log.runs.started_at
    first = int(np.flatnonzero(starts >= np.datetime64("2026-05-04"))[0])
    assert drift.since_interval[0] <= first <= drift.since_interval[1]


def test_wear_is_shown_as_cycles_not_as_drift(semester_review: Review) -> None:
    """Pump oil and punch follow their service rhythm."""
    forms = {drift.column: drift.form for drift in semester_review.drifts.drifts}
    assert forms["oil_hours"] == "cycle"
    assert forms["punch_holes"] == "cycle"


def test_only_the_oil_changes_count_as_services(semester_review: Review) -> None:
    """One hand rounds pump hours to 5: only 6 April and 18 May are services, not its rounding."""
    oil = next(drift for drift in semester_review.drifts.drifts if drift.column == "oil_hours")
    starts = semester_review.log.runs.started_at
    first, second = (
        int(np.flatnonzero(starts >= np.datetime64(day))[0]) for day in ("2026-04-06", "2026-05-18")
    )
    assert oil.cycle_lengths == (second - first,)
    assert oil.since == second


def test_nothing_stable_is_called_drifted(semester_review: Review) -> None:
    """Only what was planted to move is strong, with the cure index that follows the oven.

    Base and agent were swapped in one row; that they stand out there is right.
    """
    moved = {
        (drift.column, drift.form)
        for drift in semester_review.drifts.drifts
        if drift.evidence == "strong" and drift.form != "cycle"
    }
    swapped = {("base_g", "outliers"), ("agent_g", "outliers")}
    assert {column for column, _ in moved - swapped} <= {"pumpdown_s", "cure_c", "equivalent_cure"}
