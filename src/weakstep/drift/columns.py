"""One parameter of the screen, and how a finding about it is told."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.fitness import suits_log_scale
from weakstep.drift.cycles import Cycle
from weakstep.drift.describe import (
    Description,
    Profile,
    describe,
    profiles,
    pulled_in,
    usual_level,
)
from weakstep.drift.model import Change, Drift, DriftEvidence
from weakstep.drift.several import ramp_as_good, several_steps
from weakstep.drift.splits import centred_within

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Places = NDArray[np.intp]

FAMILY_WISE = 0.05
SOME = 0.20
# What several steps must gain over a ramp more than over one step, in ln n. Without it 9 to 10 % of
# simulated ramps are told as stairs, and the start of the ramp is lost; with it 2 to 5 %.
_STAIRS_FOR_A_RAMP = 0.5


@dataclass(frozen=True, eq=False)
class Column:
    """
    One parameter to be judged.

    Attributes
    ----------
    name : str
    values : array, shape (n_values,)
        Logged values in time order.
    logged : array of bool, shape (n_runs,)
    log_scale : bool
        Whether a factor matters rather than a difference, by the description.
    """

    name: str
    values: Floats
    logged: NDArray[np.bool_]
    log_scale: bool

    @property
    def runs(self) -> Places:
        """Run of each value."""
        return np.flatnonzero(self.logged)

    @cached_property
    def scaled(self) -> Floats:
        """Values, or their logarithms where the description or their skew asks for that."""
        logs = self.values.min() > 0.0 and (self.log_scale or suits_log_scale(self.values))
        return np.log(self.values) if logs else self.values


def evidence_of(p: float) -> DriftEvidence:
    """
    Word for a family-wise p of the screen.

    Examples
    --------
    >>> evidence_of(0.03), evidence_of(0.1), evidence_of(0.5)
    ('strong', 'some', 'none')
    """
    return "strong" if p <= FAMILY_WISE else "some" if p <= SOME else "none"


def as_cycle(column: Column, cycle: Cycle) -> Drift:
    """Tell a service rhythm."""
    since = int(column.runs[cycle.services[-1]]) if cycle.services else int(column.runs[0])
    services = column.runs[list(cycle.services)] if cycle.services else np.zeros(0, dtype=np.intp)
    return Drift(
        column=column.name,
        form="cycle",
        since=since,
        since_interval=(since, since),
        before=cycle.reached,
        after=cycle.now,
        p=float("nan"),
        evidence="none",
        cycle_lengths=tuple(int(length) for length in np.diff(services)),
    )


def told(column: Column, groups: Places, phi: float, p: float, seed: int) -> Drift:
    """
    Tell a change that was found, or several where one does not explain the values.

    Parameters
    ----------
    column : Column
    groups : array of int, shape (n_runs,)
        Who made each run.
    phi : float
        Lag-1 correlation of the scores.
    p : float
        Family-wise.
    seed : int

    Returns
    -------
    Drift
    """
    strata = groups[column.logged]
    scaled = pulled_in(column.scaled)
    if not centred_within(scaled[None, :], strata).any():  # only values far out vary
        scaled = column.scaled
    found = describe(column.values, column.runs, strata, phi=float(phi), log_scale=column.log_scale)
    places: tuple[int, ...] = ()
    if found.form != "spread":
        step, ramp = (profile.best for profile in profiles(scaled, strata, float(phi))[:2])
        better_than = max(step, ramp + _STAIRS_FOR_A_RAMP * math.log(len(scaled)))
        places = several_steps(scaled, strata, phi=float(phi), better_than=better_than, seed=seed)
    if not places:
        return _single(column, found, p)
    several = _several(column, strata, places, float(phi), p)
    if ramp_as_good(scaled, strata, places, phi=float(phi), ramp=ramp):
        return replace(several, other_forms=("ramp",))
    return several


def _single(column: Column, found: Description, p: float) -> Drift:
    return Drift(
        column=column.name,
        form=found.form,
        since=found.since,
        since_interval=found.since_interval,
        before=found.before,
        after=found.after,
        p=float(min(p, 1.0)),
        evidence=evidence_of(p),
        other_forms=found.other_forms,
    )


def _several(
    column: Column, strata: Places, places: tuple[int, ...], phi: float, p: float
) -> Drift:
    """
    Tell changes of level between their neighbours; the largest stands for all.

    Each is moved to the middle of its likelihood between its neighbours.
    """
    ends = [0, *places, len(column.values)]
    for i in range(1, len(ends) - 1):
        ends[i] = ends[i - 1] + _between(column, strata, ends[i - 1], ends[i + 1], phi).middle
    changes, level = [], usual_level(column.values)
    for i, place in enumerate(ends[1:-1]):
        first, last = _between(column, strata, ends[i], ends[i + 2], phi).interval
        runs = column.runs[ends[i] : ends[i + 2]]
        earliest = int(runs[first - 1]) + 1 if first > 0 else int(runs[0])
        since = int(column.runs[place])
        changes.append(
            Change(
                since=since,
                since_interval=(min(earliest, since), max(int(runs[last]), since)),
                before=level(column.values[ends[i] : place]),
                after=level(column.values[place : ends[i + 2]]),
            )
        )
    largest = max(changes, key=lambda change: abs(change.after - change.before))
    return Drift(
        column=column.name,
        form="step",
        since=largest.since,
        since_interval=largest.since_interval,
        before=largest.before,
        after=largest.after,
        p=float(min(p, 1.0)),
        evidence=evidence_of(p),
        changes=tuple(changes),
    )


def _between(column: Column, strata: Places, start: int, end: int, phi: float) -> Profile:
    """Profile of one step in a part of the values."""
    codes = np.unique(strata[start:end], return_inverse=True)[1]
    step, _, _ = profiles(pulled_in(column.scaled[start:end]), codes, phi)
    return step


def far_out(column: Column, place: int, p: float) -> Drift:
    """Tell one value far out, at *place* among the logged values."""
    run = int(column.runs[place])
    return Drift(
        column=column.name,
        form="outliers",
        since=run,
        since_interval=(run, run),
        before=float(np.median(np.delete(column.values, place))),
        after=float(column.values[place]),
        p=float(p),
        evidence=evidence_of(p),
    )
