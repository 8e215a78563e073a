"""The joint distance of new runs: scores of several parameters that lie apart together."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Collection

    from numpy.typing import NDArray

    from weakstep.watching.baseline import WatchedJoint

    Floats = NDArray[np.float64]

_OTHERS = 0.0005  # chance that the other parameters lie as far out as one that is cut needs them
_FURTHEST = 4.0  # of normal scores, one in 16 000 lies further out: it tells of its law's tail
_ALL_ALIKE = 1.3  # else two parameters, each cut, could hardly pass the limit together


def joint_of(joint: WatchedJoint, columns: Collection[str]) -> WatchedJoint | None:
    """
    Return what of *joint* can be watched where only these columns are logged; None below two.

    Examples
    --------
    >>> from weakstep.watching.baseline import WatchedJoint
    >>> rows = ((1.0, 0.1, 0.2), (0.1, 2.0, 0.3), (0.2, 0.3, 3.0))
    >>> joint = WatchedJoint(("a", "b", "c"), rows, 100, 0.001)
    >>> joint_of(joint, {"a", "c"}).covariance
    ((1.0, 0.2), (0.2, 3.0))
    """
    kept = [place for place, name in enumerate(joint.columns) if name in columns]
    if len(kept) < 2:
        return None
    return replace(
        joint,
        columns=tuple(joint.columns[place] for place in kept),
        covariance=tuple(tuple(joint.covariance[i][j] for j in kept) for i in kept),
    )


def joint_limit(joint: WatchedJoint) -> float:
    """Upper limit of the joint distance, for the chance a run that *joint* carries."""
    return _limit(joint, len(joint.columns), joint.chance)


def _limit(joint: WatchedJoint, columns: int, chance: float) -> float:
    from weakstep.charts.multivariate_limits import t2_limit

    return t2_limit(columns, false_alarm=chance, phase="monitoring", n_points=joint.points)


def joint_distances(
    scores: Floats, joint: WatchedJoint, starts: Collection[int] = ()
) -> tuple[Floats, Floats]:
    r"""
    Hotelling's distance :math:`z' S^{-1} z` of each run's scores, with each parameter's part.

    A score is cut at 4 and at :math:`\sqrt{h - q}`, with *h* the limit and *q* what the distance of
    the other parameters passes once in 2000 runs, so that it takes several parameters to set a run
    apart together, whatever a single one's law: it is watched alone, too. It is not cut below what
    is left for each when all lie out alike, :math:`\sqrt{1.3\, h / p}`. After a reset the distance
    is that from the mean of the *m* runs since,
    :math:`\tfrac{m}{m+1} (z - \bar z_m)' S^{-1} (z - \bar z_m)`; the first run after it has none.

    Parameters
    ----------
    scores : array, shape (n_runs, n_columns)
        NaN for gaps: such a run has no distance.
    joint : WatchedJoint
    starts : collection of int
        Runs before which it starts anew.

    Returns
    -------
    distance : array, shape (n_runs,)
    parts : array, shape (n_runs, n_columns)

    References
    ----------
    N. D. Tracy, J. C. Young and R. L. Mason (1992), Multivariate control charts for individual
    observations, Journal of Quality Technology 24, 88-95.

    Examples
    --------
    >>> from weakstep.watching.baseline import WatchedJoint
    >>> joint = WatchedJoint(("a", "b"), ((1.0, 0.0), (0.0, 1.0)), 100, 0.001)
    >>> scores = np.array([[1.0, 1.0], [1.2, 1.0], [1.4, 1.0]])
    >>> joint_distances(scores, joint, {1})[0].round(9).tolist()
    [2.0, nan, 0.02]
    """
    from weakstep.charts.multivariate import distances

    limit, columns = joint_limit(joint), len(joint.columns)
    quiet = _limit(joint, columns - 1, max(_OTHERS, joint.chance))
    furthest = max(min(_FURTHEST, np.sqrt(limit - quiet)), np.sqrt(_ALL_ALIKE * limit / columns))
    off = np.clip(scores, -furthest, furthest)
    for start, end in pairwise([*sorted(starts), len(scores)]):
        since = off[start:end]
        whole = np.asarray(~np.isnan(since).any(axis=1))
        count: NDArray[np.intp] = (
            np.cumsum(whole)[:, None] - whole[:, None]
        )  # complete runs since, before each
        known = np.where(whole[:, None], since, 0.0)
        before = np.cumsum(known, axis=0) - known
        mean = np.divide(before, count, out=np.full(since.shape, np.nan), where=count > 0)
        off[start:end] = (since - mean) * np.sqrt(count / (count + 1.0))
    return distances(off, np.array(joint.covariance))
