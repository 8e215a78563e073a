"""Allowing for time."""

from __future__ import annotations

import numpy as np

from weakstep.failures.calendar import (
    background_with_best_curves,
    curves,
    curves_needed,
    weeks_or_blocks,
)
from weakstep.failures.null_model import logistic, operator_background


def test_weeks_serve_when_there_are_three():
    """Otherwise neighbouring runs, in blocks of about 8."""
    week = np.repeat([0, 2, 5], 10)
    np.testing.assert_array_equal(weeks_or_blocks(week), np.repeat([0, 1, 2], 10))
    blocks = weeks_or_blocks(np.zeros(80, dtype=int))
    assert len(np.unique(blocks)) == 10
    assert (np.diff(blocks) >= 0).all()
    assert len(np.unique(weeks_or_blocks(np.zeros(16, dtype=int)))) == 4


def test_twenty_three_standardised_curves():
    """A line, a parabola, 6 hinges, 15 steps."""
    columns = curves(160)
    assert columns.shape == (160, 23)
    np.testing.assert_allclose(columns.std(axis=0), 1.0)


def test_the_curve_that_failures_follow_is_found():
    """Failures that jump at the middle of the log: the step at 4/8 first, then another curve."""
    tested = np.full(160, 3)
    late = np.arange(160) >= 80
    failed = np.random.default_rng(8).binomial(3, logistic(-2.0 + 2.5 * late))
    background = background_with_best_curves(operator_background(np.zeros(160)), failed, tested)
    assert background.columns.shape == (160, 3)
    column = background.columns[:, 1]
    assert len(np.unique(column)) == 2
    np.testing.assert_array_equal(column > 0, late)


def test_curves_are_kept_only_where_failures_follow_them():
    """A jump of 2.5 logits keeps two curves, calm failures none: pairs to choose from are paid."""
    tested, rng = np.full(160, 3), np.random.default_rng(9)
    late = np.arange(160) >= 80
    people = operator_background(np.zeros(160))
    jump = rng.binomial(3, logistic(-2.0 + 2.5 * late))
    kept = curves_needed(people, jump, tested)
    allowed = background_with_best_curves(people, jump, tested)
    np.testing.assert_array_equal(kept, allowed.columns[:, 1:])
    calm = [curves_needed(people, rng.binomial(3, 0.2, 160), tested).shape[1] for _ in range(20)]
    # By the price of log(253) two curves of noise are kept in far less than one log of twenty.
    assert calm.count(0) >= 19
