"""Did the change work: failure rates before and after, with luck and other changes allowed for."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.errors import LogError
from weakstep.interval import Interval
from weakstep.trials.dealing import how_dealt
from weakstep.trials.differences import newcombe_difference
from weakstep.trials.luck import chance_groups_differ, chance_of_luck
from weakstep.trials.moved import (
    MOST_ALLOWED,
    Moved,
    Spread,
    allowed_for,
    own_spread,
    what_moved,
)
from weakstep.trials.nested import nesting
from weakstep.trials.shares import beta_limits, good_in_a_row_needed, score_limits, still_possible

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from weakstep.trials.dealing import HowDealt
    from weakstep.trials.periods import Periods

LEVEL = 0.95
ALL = "all"
_FEW_FAILED = 3  # below it the exact limit is told, too


@dataclass(frozen=True)
class RateChange:
    """
    One failure family (or all of them) before and after.

    Attributes
    ----------
    family : str
        Its name, or "all".
    failed, tested : tuple of two int
        Chips before and after.
    before, after : Interval
        Failure rates; chips of one run are not taken as independent.
    difference : Interval
        After less before.
    allowed : Interval or None
        The same with operators and the other parameters that moved held; None when it cannot be
        computed.
    luck : float
        Chance of a difference as large when runs are dealt to the periods by lot.
    still_possible : float or None
        Highest rate after the change that so few failures do not rule out (one-sided 95 %); None
        when there are 3 or more.
    good_needed : int or None
        Good chips in a row after the change that would rule out the rate before it, with chips of a
        run failing together as they do; None when one has failed, or none before.
    """

    family: str
    failed: tuple[int, int]
    tested: tuple[int, int]
    before: Interval
    after: Interval
    difference: Interval
    allowed: Interval | None
    luck: float
    still_possible: float | None
    good_needed: int | None


@dataclass(frozen=True)
class Comparison:
    """
    Two periods of a process compared.

    Attributes
    ----------
    names : tuple of two str
    runs : tuple of two int
        Tested runs before and after.
    correlation : float
        Of chips within a run.
    changes : tuple of RateChange
        All families together first, then each family that failed.
    column : str or None
        The parameter changed on purpose.
    spread : Spread or None
        Its own values before and after.
    moved : tuple of Moved
        Other parameters that differ between the periods.
    held : tuple of str
        Those of them that `allowed` holds: the first five, without measured outcomes, which come of
        a change and do not cause failures.
    weeks_differ : float or None
        Chance of weeks differing as much within the periods, if runs did not depend on their week.
    undated : int
        Runs left out because they have no date.
    dealt : HowDealt
        To the two periods, by lot: whole operators where mostly others worked in each; nothing
        where these were too few.
    """

    names: tuple[str, str]
    runs: tuple[int, int]
    correlation: float
    changes: tuple[RateChange, ...]
    column: str | None
    spread: Spread | None
    moved: tuple[Moved, ...]
    held: tuple[str, ...]
    weeks_differ: float | None
    undated: int
    dealt: HowDealt = "runs within operators"

    @property
    def new_hands(self) -> bool:
        """Mostly other operators worked in the two periods; they cannot be told from the change."""
        return self.dealt != "runs within operators"


def compare(
    periods: Periods,
    *,
    column: str | None = None,
    window: tuple[float | None, float | None] | None = None,
    family: str | None = None,
    seed: int = 0,
) -> Comparison:
    """
    Compare failure rates and a parameter's own spread between two periods.

    Parameters
    ----------
    periods : Periods
    column : str, optional
        The parameter changed on purpose. Only then can others that moved be allowed for: without
        it, what moved may be the change itself.
    window : tuple of two floats or None, optional
        What *column* was to be held in.
    family : str, optional
        Only this failure family.
    seed : int
        Of re-orderings and draws.

    Returns
    -------
    Comparison

    Raises
    ------
    LogError
        *column* is no number that the log carries, or *family* no failure family.
    """
    if family is not None and family not in periods.failed:
        msg = f"'{family}' is no failure family; there are: {', '.join(periods.failed)}."
        raise LogError(msg)
    if column is not None and column not in periods.numbers.columns:
        msg = (
            f"The log has no numbers for '{column}'. It carries: "
            f"{', '.join(map(str, periods.numbers.columns))}."
        )
        raise LogError(msg)
    moved = what_moved(periods, column)
    causes = [one.column for one in moved if periods.process.parameter(one.column).is_factor]
    held = tuple(causes[:MOST_ALLOWED]) if column else ()
    families = {ALL: periods.all_failed} | {
        name: counts for name, counts in periods.failed.items() if counts.sum()
    }
    if family is not None:
        families = {family: periods.failed[family]}
    elif len(families) == 2:
        families.pop(ALL)
    known = periods.tested > 0
    return Comparison(
        names=periods.names,
        runs=(int((known & ~periods.after).sum()), int((known & periods.after).sum())),
        correlation=nesting(periods.all_failed, periods.tested, periods.after).correlation,
        changes=tuple(
            rate_change(periods, name, counts, held, seed) for name, counts in families.items()
        ),
        column=column,
        spread=own_spread(periods, column, window) if column else None,
        moved=moved,
        held=held,
        weeks_differ=_weeks_differ(periods, seed),
        undated=periods.undated,
        dealt=how_dealt(periods.operator[known], periods.after[known]),
    )


def rate_of(comparison: Comparison, family: str | None) -> RateChange:
    """Return what happened to a family; to all failures when it is None or never failed."""
    return next((one for one in comparison.changes if one.family == family), comparison.changes[0])


def rate_change(
    periods: Periods, family: str, failed: NDArray[np.int_], held: tuple[str, ...], seed: int = 0
) -> RateChange:
    """Compare one family; *held* are the columns that the model holds."""
    from scipy.special import stdtrit

    nested = nesting(failed, periods.tested, periods.after)
    groups = (~periods.after, periods.after)
    lost = tuple(int(failed[g].sum()) for g in groups)
    seen = tuple(int(periods.tested[g].sum()) for g in groups)
    counts = [(k / e, n / e) for k, n, e in zip(lost, seen, nested.effects, strict=True)]
    quantile = float(stdtrit(nested.freedom, 0.5 + LEVEL / 2.0))
    rates = [Interval(k / n, *score_limits(k / n, n, quantile), LEVEL) for k, n in counts]
    few = lost[1] < _FEW_FAILED
    needed = None
    if lost[1] == 0 and 0 < lost[0] < seen[0]:
        needed = math.ceil(nested.effects[1] * good_in_a_row_needed(rates[0].estimate, LEVEL))
    return RateChange(
        family,
        (lost[0], lost[1]),
        (seen[0], seen[1]),
        rates[0],
        rates[1],
        newcombe_difference(
            counts[1], counts[0], level=LEVEL, freedom=nested.freedom, limits=beta_limits
        ),
        allowed_for(periods, failed, held, seed=seed),
        chance_of_luck(failed, periods.tested, periods.after, periods.operator, seed=seed),
        still_possible(*counts[1], LEVEL) if few else None,
        needed,
    )


def _weeks_differ(periods: Periods, seed: int) -> float | None:
    """Chance of weeks of one period differing as much by luck; None with fewer than 4 weeks."""
    used = periods.tested > 0
    week, after = periods.week[used], periods.after[used]
    k, m = periods.all_failed[used], periods.tested[used]
    if len(np.unique(week)) < 4:
        return None
    return chance_groups_differ(k, m, week, after, seed=seed)
