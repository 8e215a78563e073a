"""What the history of a log is: semesters, trends, changes and what came of them; dated events."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from weakstep.trials.comparing import rate_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy as np

    from weakstep.interval import Interval
    from weakstep.trials.comparing import Comparison, RateChange
    from weakstep.trials.dealing import HowDealt

EventKind = Literal["service", "change", "semester"]


@dataclass(frozen=True)
class Event:
    """
    Something that happened at a moment of the log; charts mark it.

    Attributes
    ----------
    name : str
        What happened, as a hover says it.
    kind : EventKind
        service (a counter was set back), change (made by the lab) or semester (one begins).
    run : int
        Index of the first run since; the number of runs when none came after it.
    date : datetime64[D] or None
        The day; None where the log has no dates.
    columns : tuple of str
        Parameters whose charts it belongs on; empty for every chart.
    """

    name: str
    kind: EventKind
    run: int
    date: np.datetime64 | None
    columns: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Semester:
    """
    One semester of a log.

    Attributes
    ----------
    name : str
    first, last : datetime64[D]
        Days of its first and last dated run; NaT without dates.
    runs : int
        With a known outcome.
    tested : int
        Chips.
    failed : mapping of family name to int
        Chips.
    """

    name: str
    first: np.datetime64
    last: np.datetime64
    runs: int
    tested: int
    failed: Mapping[str, int]


@dataclass(frozen=True)
class FamilyTrend:
    """
    Failure rate of one family (or all of them) by semester.

    Attributes
    ----------
    family : str
        Its name, or "all".
    rates : tuple of Interval or None
        One per semester, 95 %; chips of one run are not taken as independent. None for a semester
        without a tested chip.
    odds_per_semester : Interval or None
        Factor by which the odds of failing change from one semester to the next, operators held;
        None when it cannot be computed.
    luck : float
        Chance of a trend as steep when runs are dealt to the semesters by lot, two-sided.
    differ : float or None
        Chance of semesters differing as much, in whatever order; None with two semesters, or where
        few new operators cannot be told from a new semester.
    dealt : HowDealt
        What the lots were: whole operators where each semester brought new ones; where these were
        too few, nothing, and `luck` comes from the slope's error.
    """

    family: str
    rates: tuple[Interval | None, ...]
    odds_per_semester: Interval | None
    luck: float
    differ: float | None
    dealt: HowDealt = "runs within operators"


@dataclass(frozen=True)
class Change:
    """
    Something the lab changed, from its list of changes.

    Attributes
    ----------
    date : datetime64[D]
        First day with the change.
    what : str
        In the lab's own words.
    column, step : str or None
        The parameter or the step it concerns; both None when the list names neither.
    family : str or None
        The failure family it was to lower; None for all of them.
    window : tuple of two floats or None
        What the parameter was to be held in.
    from_review : str or None
        The review whose verdict was acted on, in the lab's own words.
    place : str
        File and line of the entry.
    """

    date: np.datetime64
    what: str
    column: str | None
    step: str | None
    family: str | None
    window: tuple[float | None, float | None] | None
    from_review: str | None
    place: str


@dataclass(frozen=True)
class ChangeOutcome:
    """
    A change and what came of it.

    Attributes
    ----------
    change : Change
    comparison : Comparison or None
        Runs between the change before it and the next change in its step, before against after;
        None when there are too few.
    days : tuple of four datetime64[D], or None
        First and last run before, first and last run since, of those compared.
    why_not : str
        Why there is no comparison; empty when there is one.
    same_day : tuple of str
        Other changes of that day, which cannot be told from it.
    meanwhile : tuple of Change
        Changes of other steps within the runs compared.
    sentence : str
        What came of it.
    semesters : int
        That the runs compared lie in; 0 without a comparison.
    """

    change: Change
    comparison: Comparison | None
    days: tuple[np.datetime64, np.datetime64, np.datetime64, np.datetime64] | None
    why_not: str
    same_day: tuple[str, ...]
    meanwhile: tuple[Change, ...]
    sentence: str
    semesters: int = 0

    @property
    def rate(self) -> RateChange | None:
        """Failures before and since: of the family that the list names, else of all."""
        if self.comparison is None:
            return None
        return rate_of(self.comparison, self.change.family)


@dataclass(frozen=True, eq=False)
class History:
    """
    The history that a log tells.

    Attributes
    ----------
    semesters : tuple of Semester
        In order of time; none or one when the log holds no more.
    told_by : str
        What tells them apart, as a sentence says it ("a column", ...).
    semester_of : array of int, shape (n_runs,)
        Place of each run's semester; -1 where unknown.
    trends : tuple of FamilyTrend
        All families together first; none with fewer than two semesters.
    changes : tuple of ChangeOutcome
        In order of time.
    """

    semesters: tuple[Semester, ...]
    told_by: str
    semester_of: np.ndarray
    trends: tuple[FamilyTrend, ...]
    changes: tuple[ChangeOutcome, ...]
