"""The joint distance: several parameters together, never a single one."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.watching.baseline import WatchedJoint
from weakstep.watching.joint import joint_distances, joint_limit


def alike(columns: int, correlation: float = 0.0) -> WatchedJoint:
    """Return parameters that correlate with each other as much."""
    covariance = np.full((columns, columns), correlation) + (1.0 - correlation) * np.eye(columns)
    rows = tuple(tuple(map(float, row)) for row in covariance)
    return WatchedJoint(tuple("abcdefghijklm"[:columns]), rows, 100, 1e-5)


@pytest.mark.parametrize("columns", [2, 3, 5, 13])
def test_one_alone_never_signals_and_all_do(columns: int) -> None:
    """However far out one parameter is, it has its own sums; where all are, the distance tells."""
    joint = alike(columns)
    one, every = np.zeros((1, columns)), np.full((1, columns), 50.0)
    one[0, 0] = 50.0
    assert joint_distances(one, joint)[0][0] < joint_limit(joint)
    assert joint_distances(every, joint)[0][0] > joint_limit(joint)


@pytest.mark.parametrize("correlation", [-0.25, 0.25])
def test_two_that_correlate_somewhat_signal_together(correlation: float) -> None:
    """Also where they go the way in which they usually go."""
    joint = alike(2, correlation)
    scores = np.array([[50.0, 50.0 * np.sign(correlation)]])
    assert joint_distances(scores, joint)[0][0] > joint_limit(joint)


def test_the_chance_of_a_false_alarm_is_kept_below() -> None:
    """200 000 stable runs of a known covariance: at most the chance asked, 4 standard errors."""
    rng = np.random.default_rng(37)
    for columns in (2, 4):
        joint = WatchedJoint(*(alike(columns).columns, alike(columns).covariance), 100_000, 1e-3)
        over = joint_distances(rng.standard_normal((200_000, columns)), joint)[0]
        assert (over > joint_limit(joint)).mean() < 1e-3 + 4 * np.sqrt(1e-3 / 200_000)
