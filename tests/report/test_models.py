"""Reported models as the page tells them."""

from __future__ import annotations

from dataclasses import replace

from weakstep.report.models import models
from weakstep.report.names import Names
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
