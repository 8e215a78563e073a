"""Failure rates by semester, and whether they go up or down."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.interval import Interval
from weakstep.semesters.model import FamilyTrend
from weakstep.trials.dealing import how_dealt, lots_of
from weakstep.trials.luck import chance_groups_differ, chance_of_luck, slope
from weakstep.trials.nested import nesting
from weakstep.trials.shares import score_limits

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Counts = NDArray[np.int_]

LEVEL = 0.95
_LARGEST_LOG_ODDS = 20.0


def family_trend(
    family: str,
    failed: Counts,
    tested: Counts,
    semester: Counts,
    operator: NDArray[np.str_],
    *,
    count: int,
    seed: int = 0,
) -> FamilyTrend:
    r"""
    Follow one failure family over the semesters.

    Rates have score limits; chips of one run are taken together by the design effect of their
    semester, with the quantile of a t law. The trend is tested by dealing whole runs, or whole
    operators where each semester brought new ones, to the semesters (`chance_of_luck`); its size is
    a slope on the place of the semester (`weakstep.trials.luck.slope`).

    Parameters
    ----------
    family : str
    failed, tested : array of int, shape (n_runs,)
        Chips; tested above 0.
    semester : array of int, shape (n_runs,)
        Place of each run's semester, from 0.
    operator : array of str, shape (n_runs,)
    count : int
        Semesters.
    seed : int

    Returns
    -------
    FamilyTrend

    References
    ----------
    Armitage, P. (1955), Biometrics 11, 375-386; McCullagh, P. & Nelder, J. A. (1989), Generalized
    Linear Models, 2nd edition, section 4.5, for the overdispersion.
    """
    dealt = how_dealt(operator, semester)
    lots = lots_of(failed, tested, semester, operator)
    return FamilyTrend(
        family,
        _rates(failed, tested, semester, count),
        odds_per_semester(failed, tested, semester, operator),
        chance_of_luck(failed, tested, semester, operator, seed=seed),
        chance_groups_differ(lots.failed, lots.tested, lots.period, lots.stratum, seed=seed)
        if count > 2 and dealt != "too few operators"
        else None,
        dealt,
    )


def _rates(
    failed: Counts, tested: Counts, semester: Counts, count: int
) -> tuple[Interval | None, ...]:
    from scipy.special import stdtrit

    nested = nesting(failed, tested, semester)
    quantile = float(stdtrit(nested.freedom, 0.5 + LEVEL / 2.0))
    found: list[Interval | None] = []
    for place in range(count):
        lost = int(failed[semester == place].sum())
        seen = int(tested[semester == place].sum())
        if seen == 0:
            found.append(None)
            continue
        share = lost / seen
        ends = score_limits(share, seen / nested.effects[place], quantile)
        found.append(Interval(share, *ends, LEVEL))
    return tuple(found)


def odds_per_semester(
    failed: Counts, tested: Counts, semester: Counts, operator: NDArray[np.str_]
) -> Interval | None:
    """
    Return the factor by which the odds of failing change from one semester to the next.

    Returns
    -------
    Interval or None
        None when no chip or every chip failed.
    """
    from scipy.special import stdtrit

    found = slope(failed, tested, semester, operator)
    if found is None:
        return None
    rise, error = found
    reach = error * float(stdtrit(max(1, len(failed) - 2), 0.5 + LEVEL / 2.0))
    ends = np.clip([rise - reach, rise + reach], -_LARGEST_LOG_ODDS, _LARGEST_LOG_ODDS)
    low, high = map(float, np.exp(ends))
    return Interval(float(np.exp(rise)), low, high, LEVEL)
