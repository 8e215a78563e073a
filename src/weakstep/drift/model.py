"""What the drift screen says about each parameter of a log."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Form = Literal["step", "ramp", "spread", "outliers", "cycle"]
DriftEvidence = Literal["strong", "some", "none"]


@dataclass(frozen=True)
class Change:
    """
    One of several changes of level in a parameter.

    Attributes
    ----------
    since : int
        Index (from 0, among all runs) of the first changed run.
    since_interval : tuple of int
        First and last index it may have begun at, both included (95 %).
    before, after : float
        Median (share of yes for yes and no) between the change before and this one, and between
        this one and the next.
    """

    since: int
    since_interval: tuple[int, int]
    before: float
    after: float


@dataclass(frozen=True)
class Together:
    """
    Parameters whose changes began at times that this log cannot tell apart.

    Attributes
    ----------
    columns : tuple of str
        Two or more.
    since_interval : tuple of int
        Indices of runs that all their intervals share.
    """

    columns: tuple[str, ...]
    since_interval: tuple[int, int]


@dataclass(frozen=True)
class Drift:
    """
    A parameter whose level or spread changed during the log.

    Attributes
    ----------
    column : str
    form : Form
        step, ramp, spread, outliers; or cycle for a wear counter with its service rhythm.
    since : int
        Index (from 0, among all runs) of the first changed run; of the value far out; of the first
        run after the last service for a cycle.
    since_interval : tuple of int
        First and last index the change may have begun at, both included (95 %).
    before, after : float
        In the parameter's unit. Step: median before and after, of yes and no the share of yes.
        Ramp: fitted level before it begins and at the end of the log. Spread: standard deviation
        before and after. Outliers: median of the other values, and the value far out. Cycle: median
        value at which it was serviced (the first value without a service), and the last value.
    p : float
        Family-wise p-value over all parameters of the screen; nan for a cycle.
    evidence : DriftEvidence
    other_forms : tuple of Form
        Forms that fit about as well.
    explained_by_operator : bool
        True when the change disappears once compared within operators; its evidence is then none.
    cycle_lengths : tuple of int
        Runs between services, for a cycle.
    changes : tuple of Change
        Every change, in order of time, where the level changed more than once; `since`, `before`
        and `after` are then those of the largest. Empty for one change.
    """

    column: str
    form: Form
    since: int
    since_interval: tuple[int, int]
    before: float
    after: float
    p: float
    evidence: DriftEvidence
    other_forms: tuple[Form, ...] = ()
    explained_by_operator: bool = False
    cycle_lengths: tuple[int, ...] = ()
    changes: tuple[Change, ...] = ()


@dataclass(frozen=True)
class DriftScreen:
    """
    The screen of a whole log.

    Attributes
    ----------
    drifts : tuple of Drift
        Strong ones first, then some, then those explained by who ran it; then cycles. A column
        that moved and also holds a value far out stands in it twice.
    stable : mapping-like tuple of (column, p)
        Judged and not called.
    too_little : tuple of (column, reason)
        Never "stable": too few values to judge.
    family_wise : float
        The false-alarm budget for calling anything at all.
    power_note : str
        What a log of this length can and cannot see, one sentence.
    together : tuple of Together
        Parameters that moved at the same time (one cause, several charts), in order of time.
    """

    drifts: tuple[Drift, ...]
    stable: tuple[tuple[str, float], ...]
    too_little: tuple[tuple[str, str], ...]
    family_wise: float
    power_note: str
    together: tuple[Together, ...] = ()
