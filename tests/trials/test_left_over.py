"""Chance of luck of one parameter beside others: a strong one must not hide it."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.trials.filled import TrialRuns
from weakstep.trials.finished import left_over
from weakstep.trials.power import nested_failures, randomisation_p

CORNERS = np.array([[a, b] for a in (-1.0, 1.0) for b in (-1.0, 1.0)])


def shown(own: float, other: float, trials: int, seed: int) -> np.ndarray:
    """Return how often the first of two parameters is shown: others taken out, and left in."""
    rng = np.random.default_rng(seed)
    coded, block = np.tile(CORNERS, (8, 1)), np.repeat(np.arange(8), 4)
    rates = 1.0 / (1.0 + np.exp(1.0 - coded @ [own / 2.0, other / 2.0]))
    count = np.zeros(2)
    for trial in range(trials):
        failed = nested_failures(rng, rates, 3, 0.3, rates.shape).astype(int)
        runs = TrialRuns(coded, block, failed, np.full(32, 3), None)
        both = np.vstack([left_over(runs, 0), runs.outcome])
        count += randomisation_p(both, coded[:, 0], block, trial) <= 0.05
    return count / trials


@pytest.mark.parametrize("other", [0.0, 3.0])
def test_nothing_is_shown_too_often(other: float) -> None:
    """600 trials without an effect of its own: at most 5 % (3 standard errors)."""
    assert shown(0.0, other, 600, 70)[0] <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / 600)


def test_a_strong_parameter_does_not_hide_another() -> None:
    """300 trials, 2 logits beside 3: seen at least 10 points more often than with them left in."""
    taken_out, left_in = shown(2.0, 3.0, 300, 71)
    assert taken_out >= left_in + 0.10


def test_alone_the_outcome_itself_counts() -> None:
    """One parameter: nothing is taken out. Two: what is left is orthogonal to the other."""
    rng = np.random.default_rng(72)
    coded, block = np.tile(CORNERS, (3, 1)), np.repeat([1, 2, 3], 4)
    measured = rng.normal(size=12) + 5.0 * coded[:, 1] + block
    runs = TrialRuns(coded, block, 0 * block, 0 * block, measured)
    left = left_over(runs, 0)
    assert left @ coded[:, 1] == pytest.approx(0.0, abs=1e-9)
    assert [left[block == one].sum() for one in (1, 2, 3)] == pytest.approx([0.0] * 3, abs=1e-9)
    assert left @ coded[:, 0] == pytest.approx(measured @ coded[:, 0])
    alone = TrialRuns(coded[:, :1], block, 0 * block, 0 * block, measured)
    assert left_over(alone, 0) is measured
