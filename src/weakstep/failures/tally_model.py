"""What counting says: modes, groups, places, steps, and what the trade suspects."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from weakstep.failures.model import Evidence
    from weakstep.interval import Interval


@dataclass(frozen=True)
class ModeCount:
    """How often one failure mode occurred, as a share of the chips tested."""

    mode: str
    family: str
    count: int
    share: Interval


@dataclass(frozen=True)
class GroupCount:
    """
    Failures of one operator, mould, lot, machine or week.

    A difference between operators is a difference between habits until shown otherwise.

    Attributes
    ----------
    column : str
        "operator", the identity column, or "week".
    name : str
        Code of the operator, name of the mould ...; the number of the week, from 0.
    tested, failed : int
    rate : Interval
        As counted; Wilson 95 %, as if chips failed independently.
    shrunken : Interval
        With the help of the other groups (random effects, runs as units): what to compare by.
    """

    column: str
    name: str
    tested: int
    failed: int
    rate: Interval
    shrunken: Interval


@dataclass(frozen=True)
class PlaceCount:
    """
    How often chips failed at one place.

    Attributes
    ----------
    words : str
        As the log writes it, in lower case.
    count : int
        Failed chips.
    row, column : int or None
        Cell of the 3 x 3 grid over the chip, 0 to 2 from the top and from the left; None when the
        words name no cell ("corner", "whole face").
    share : Interval
        Of the failed chips whose place was logged; Wilson 95 %.
    """

    words: str
    count: int
    row: int | None
    column: int | None
    share: Interval


@dataclass(frozen=True)
class StepYield:
    """
    Chips that one step let through, by the trade's suspicion of each failure mode.

    Each failed chip is shared out over the steps that the description suspects for its mode, in
    proportion to the strength of the suspicion. It orders questions; it proves nothing.

    Attributes
    ----------
    step : str
    lost : float
        Chips shared out to the step.
    share : Interval
        Yield of the step: good / entered, Wilson 95 %.
    rolled : float
        Product of the yields up to and with this step.
    """

    step: str
    lost: float
    share: Interval
    rolled: float


@dataclass(frozen=True)
class Suspicion:
    """
    One failure mode against one step: what the trade suspects beside what this log says.

    Attributes
    ----------
    mode, family, step : str
    suspected : int
        From the description: 0 (not named), 1 (weak) to 3 (strong).
    evidence : Evidence or None
        Of the step's best factor in the mode's family; None when the family was not ranked or the
        log holds no parameter of the step.
    preventable_share : Interval or None
        Of the family's failures, with the step's parameters held in their windows.
    column : str or None
        The step's parameter that this mode alone is most linked to; None when the mode has too few
        failures to be asked, or the log holds no parameter of the step.
    mode_p : float or None
        Of that link, family-wise over all modes and parameters.
    mode_evidence : Evidence or None
        Never "strong" for a parameter that the ranking does not call strong.
    """

    mode: str
    family: str
    step: str
    suspected: int
    evidence: Evidence | None
    preventable_share: Interval | None
    column: str | None = None
    mode_p: float | None = None
    mode_evidence: Evidence | None = None


@dataclass(frozen=True)
class Tally:
    """
    Counts of outcomes.

    Attributes
    ----------
    tested, failed, untested : int
        Chips with a known outcome, of these failed, and chips without a known outcome.
    rate : Interval or None
        Wilson 95 %; None when nothing was tested.
    modes : tuple of ModeCount
        Most frequent first.
    by_family : mapping of family name to Interval
    groups : tuple of GroupCount
        By operator, mould, lot, machine ..., week.
    places : tuple of PlaceCount
        Where on the chip, most frequent first.
    steps : tuple of StepYield
        In working order; empty when no mode names a step.
    """

    tested: int
    failed: int
    untested: int
    rate: Interval | None
    modes: tuple[ModeCount, ...]
    by_family: Mapping[str, Interval]
    groups: tuple[GroupCount, ...] = ()
    places: tuple[PlaceCount, ...] = ()
    steps: tuple[StepYield, ...] = ()
