"""Whether the outcome of a finished trial bends between its levels."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.errors import NotEnoughError
from weakstep.trials.curvature import bend
from weakstep.trials.differences import newcombe_difference
from weakstep.trials.nested import nesting
from weakstep.trials.shares import beta_limits

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from weakstep.interval import Interval
    from weakstep.trials.filled import Counts, Floats, TrialRuns
    from weakstep.trials.planned import TrialPlan

_FEWEST = 2  # runs of a combination, to compare chips within it


@dataclass(frozen=True)
class Bent:
    """
    The outcome at the middle less its mean at the levels around it.

    Attributes
    ----------
    columns : tuple of str
        The parameter of three levels, or all of them where runs at the middle of all were made.
    size : Interval
        Difference of failure rates, or of means in the outcome's unit.
    """

    columns: tuple[str, ...]
    size: Interval

    @property
    def shown(self) -> bool:
        """Whether the interval leaves out the straight line."""
        return not self.size.lower <= 0.0 <= self.size.upper


def bends_of(runs: TrialRuns, plan: TrialPlan) -> tuple[Bent, ...]:
    """
    Look for a bend: at the middle one of three levels, or at runs with all at the middle.

    Returns
    -------
    tuple of Bent
        Intervals at the level that the plan's alpha leaves; none where no run at the middle has an
        outcome, or nothing was repeated.
    """
    level = 1.0 - plan.alpha
    asked: list[tuple[tuple[str, ...], int | None]] = [
        ((column,), place)
        for place, column in enumerate(plan.columns)
        if len(plan.levels[place]) == 3
    ]
    if plan.centre_runs:
        asked.append((plan.columns, None))
    found = []
    for columns, factor in asked:
        if runs.measured is not None:
            with suppress(NotEnoughError):
                told = bend(runs.coded, runs.measured, factor=factor, level=level)
                found.append(Bent(columns, told.size))
            continue
        coded = runs.coded if factor is None else runs.coded[:, [factor]]
        middle = np.asarray(~coded.any(axis=1))
        if middle.any():
            found.append(Bent(columns, rate_apart(runs, middle, level)))
    return tuple(found)


def rate_apart(runs: TrialRuns, middle: NDArray[np.bool_], level: float) -> Interval:
    """
    Difference of the failure rate at the middle and that at the levels around it.

    As many runs were made at the low as at the high level, so that the rate of both together is
    their mean. Newcombe's interval; chips are taken together within combinations of levels.

    Parameters
    ----------
    runs : TrialRuns
    middle : array of bool, shape (n_runs,)
    level : float
    """
    group = combinations_of(runs.coded)
    nested = nesting(runs.failed, runs.tested, group)
    effect = np.array(nested.effects)[group]
    counts = [
        (float((runs.failed / effect)[some].sum()), float((runs.tested / effect)[some].sum()))
        for some in (middle, ~middle)
    ]
    return newcombe_difference(
        counts[0], counts[1], level=level, freedom=nested.freedom, limits=beta_limits
    )


def combinations_of(coded: Floats) -> Counts:
    """
    Give each combination of levels a number, so that chips are compared within them.

    Where one was run only once, nothing can be: the levels of the first parameter stand in.

    Examples
    --------
    >>> combinations_of(np.array([[-1.0, 1.0], [1.0, 1.0], [1.0, 1.0], [-1.0, 1.0]])).tolist()
    [0, 1, 1, 0]
    """
    _, group, runs = np.unique(coded, axis=0, return_inverse=True, return_counts=True)
    if runs.min() < _FEWEST:
        _, group = np.unique(coded[:, 0], return_inverse=True)
    return np.asarray(group.reshape(-1), dtype=int)
