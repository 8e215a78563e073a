"""Reported models as the page tells them."""

from __future__ import annotations

from dataclasses import replace

from weakstep.interval import Interval
from weakstep.report.models import models
from weakstep.report.names import Names, odds_words
from weakstep.reviewing import Review


def test_figures_of_runs_left_out_carry_their_interval(review: Review) -> None:
    """The area under the ROC curve with interval and level; nothing when nothing was tried."""
    names, found = Names(review.log.process), review.failures.models
    (told,) = models(names, found)
    assert told.checks.replace("\u00a0", " ") == (
        "Tested on runs left out of the fit: chance that a failed one is ranked above a good one "
        "(AUC) 0.71 (95 % interval: 0.62 to 0.79), Brier score 0.120 and calibration slope 0.93 "
        "(1 is ideal)."
    )
    untried = replace(found[0], auc=None, brier=None, calibration_slope=None)
    assert models(names, (untried,))[0].checks == ""


def test_what_separates_is_named_in_words(review: Review) -> None:
    """A column in its shape carries its label; one separates, two separate."""
    names, (model, *_) = Names(review.log.process), review.failures.models
    one = replace(model, separated=("delay_s above 60 s",))
    assert models(names, (one,))[0].separated == (
        "Delay from plasma to contact above 60 s separates good from failed completely."
    )
    two = replace(model, separated=("log(delay_s)", "operator AB"))
    assert models(names, (two,))[0].separated == (
        "Log(delay from plasma to contact) and operator AB separate good from failed completely."
    )


def test_odds_say_what_they_are_for() -> None:
    """Per a step of the unit, or for one value against another; nothing without a ratio."""
    ratio = Interval(2.0, 1.0, 4.0, 0.95)
    assert odds_words(ratio, "per 10 s") == "odds × 2.00 per 10 s (1.00 to 4.00)"
    assert odds_words(ratio, "M3 against the rest") == (
        "odds × 2.00 for M3 against the rest (1.00 to 4.00)"
    )
    assert odds_words(None, "per 10 s") == ""
