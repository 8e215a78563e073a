"""The screen: which parameters of a log moved, under one false-alarm budget for all of them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import whole_number
from weakstep.drift.columns import FAMILY_WISE, SOME, Column, as_cycle, far_out, told
from weakstep.drift.cycles import declared_cycle, undeclared_cycle
from weakstep.drift.likeness import shared_likeness
from weakstep.drift.model import Drift, DriftScreen
from weakstep.drift.neighbours import lag_one
from weakstep.drift.null import orders_of, shared_orders, step_down, tail_shares
from weakstep.drift.outliers import farthest_out
from weakstep.drift.power import power_note
from weakstep.drift.scores import (
    normal_scores,
    pooled_strata,
    refiltered,
    stratum_variances,
    whitened,
)
from weakstep.drift.splits import evidence, prepare
from weakstep.drift.tails import tails_pulled_in, toward_spread
from weakstep.drift.together import moved_together

if TYPE_CHECKING:
    from collections.abc import Collection

    import pandas as pd
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]
    Places = NDArray[np.intp]

LEAST_VALUES = 25
LEAST_DIFFERENT = 6  # values that differ from the commonest one
_LEAST_PERMUTATIONS = 19
_TO_EXPLAIN = 399  # re-orderings are enough to tell what who ran it explains
# Shares of the budget for changes and for isolated values far out; the rest is kept back because
# the correlation of neighbours is only estimated.
_FOR_CHANGES, _FOR_OUTLIERS = 0.9, 0.05


def screen(
    numbers: pd.DataFrame,
    *,
    strata: ArrayLike | None = None,
    counters: Collection[str] = (),
    log_scale: Collection[str] = (),
    seed: int = 0,
    permutations: int = 999,
) -> DriftScreen:
    """
    Judge every parameter of a log at once: did it move, in what form, and since when.

    Values become normal scores within strata. The evidence for a step, a ramp, a stretch that
    comes and goes or a change of spread, averaged over all places, is compared with that of
    re-orderings of the whitened scores within strata, to which neighbours are made alike again as
    much as the log leaves possible; one set of re-orderings serves all parameters, so their
    dependence is kept. Tails heavier than those of the other parameters make a change of spread
    likelier beforehand, whatever the order. The tail share of the evidence goes through a step-down
    minimum over parameters (Westfall and Young): the chance of calling anything in a stable log is
    at most 5 % for `strong`, 20 % for `some`. Of that budget 90 % go to changes, 5 % to isolated
    values far out, and 5 % are kept back because how much neighbours resemble each other is only
    estimated.

    Parameters
    ----------
    numbers : DataFrame, shape (n_runs, n_parameters)
        One row per run in time order, one number column per parameter, each in its own unit; NaN
        where not logged.
    strata : array_like of str, shape (n_runs,), optional
        Who (or which machine) made each run. Runs are then compared within strata of at least 8.
    counters : collection of str
        Columns declared to count wear since a service; told as `cycle`, not tested.
    log_scale : collection of str
        Columns in which a factor matters rather than a difference.
    seed : int
        Makes the re-orderings repeatable.
    permutations : int, default 999
        Re-orderings, at least 19.

    Returns
    -------
    DriftScreen

    Raises
    ------
    ValueError
        *strata* has another length than *numbers*, *permutations* is no whole number of at least
        19, or *seed* none of at least 0.

    References
    ----------
    P. H. Westfall and S. S. Young (1993), Resampling-Based Multiple Testing, Wiley.
    """
    who = np.full(len(numbers), "") if strata is None else np.asarray(strata, dtype=str)
    if who.shape != (len(numbers),):
        msg = f"strata must name who made each of the {len(numbers)} runs, got shape {who.shape}"
        raise ValueError(msg)
    whole_number("seed", seed, 0)
    if whole_number("permutations", permutations, 0) < _LEAST_PERMUTATIONS:
        msg = (
            f"permutations must be at least {_LEAST_PERMUTATIONS} to reach a p-value of 0.05, got "
            f"{permutations}"
        )
        raise ValueError(msg)
    judged, cycles, too_little = _sort_columns(numbers, set(counters), set(log_scale))
    groups = pooled_strata(who) if len(who) else np.zeros(0, dtype=np.intp)
    drifts, stable = _judge(judged, groups, seed, permutations)
    return DriftScreen(
        drifts=(*drifts, *cycles),
        together=moved_together(drifts),
        stable=stable,
        too_little=too_little,
        family_wise=FAMILY_WISE,
        power_note=power_note(len(numbers)),
    )


def _sort_columns(
    numbers: pd.DataFrame, counters: set[str], log_scale: set[str]
) -> tuple[list[Column], list[Drift], tuple[tuple[str, str], ...]]:
    """Columns to be judged, cycles, and columns with too little to judge."""
    judged: list[Column] = []
    cycles: list[Drift] = []
    too_little: list[tuple[str, str]] = []
    for name in numbers.columns:
        every = numbers[name].to_numpy(dtype=float)
        logged = np.isfinite(every)
        column = Column(str(name), every[logged], logged, name in log_scale)
        reason = _why_too_little(column.values)
        if name in counters:
            cycle = declared_cycle(column.values) if len(column.values) > 1 else None
            reason = reason if cycle is None and reason else _NO_RHYTHM if cycle is None else None
        else:
            cycle = None if reason else undeclared_cycle(column.values)
        if cycle is not None:
            cycles.append(as_cycle(column, cycle))
        elif reason is not None:
            too_little.append((column.name, reason))
        else:
            judged.append(column)
    return judged, cycles, tuple(too_little)


_NO_RHYTHM = (
    "a counter that goes up and down (it may count several pieces of equipment), so its service "
    "rhythm cannot be told"
)


def _why_too_little(values: Floats) -> str | None:
    count = len(values)
    if count < LEAST_VALUES:
        logged = "only 1 value is" if count == 1 else f"only {count} values are"
        return f"{logged} logged; at least {LEAST_VALUES} are needed"
    different = count - int(np.unique(values, return_counts=True)[1].max())
    if different == 0:
        return f"all {count} values are equal"
    if different <= LEAST_DIFFERENT:
        return f"all but {different} of {count} values are equal; more than 6 must differ"
    return None


def _judge(
    judged: list[Column], groups: Places, seed: int, permutations: int
) -> tuple[list[Drift], tuple[tuple[str, float], ...]]:
    """Drifts (strong, some, explained by who ran it) and stable columns with their p."""
    if not judged:
        return [], ()
    p, phi = _changes(judged, groups, seed, permutations)
    one_group = np.zeros_like(groups)
    stratified = bool(groups.max() > 0)
    p_plain, phi_plain = p, phi
    if stratified:
        fewer = min(permutations, _TO_EXPLAIN)
        p_plain, phi_plain = _changes(judged, one_group, seed, fewer)
    far = _outliers(judged)
    drifts: list[Drift] = []
    stable: list[tuple[str, float]] = []
    for place, column in enumerate(judged):
        out_at, p_out = far[place]
        found = []
        if p_plain[place] <= FAMILY_WISE and p[place] > SOME:
            plain = told(column, one_group, phi_plain[place], p[place], seed)
            found.append(replace(plain, explained_by_operator=True))
        elif p[place] <= SOME:
            found.append(told(column, groups, phi[place], p[place], seed))
        if p_out <= SOME:
            found.append(far_out(column, out_at, p_out))
        if not found:
            stable.append((column.name, float(min(p[place], p_out, 1.0))))
        drifts += found
    rank = {"strong": 0, "some": 1, "none": 2}
    drifts.sort(key=lambda drift: (rank[drift.evidence], drift.p))
    return drifts, tuple(stable)


def _changes(
    judged: list[Column], groups: Places, seed: int, permutations: int
) -> tuple[Floats, Floats]:
    """Family-wise p of a change within its share of the budget, and phi."""
    shared = shared_orders(groups, permutations, seed)
    weighed = np.full((len(judged), 1 + permutations), -np.inf)
    phis = np.zeros(len(judged))
    scored = [normal_scores(column.values, groups[column.logged]) for column in judged]
    # Where each stratum has one value nothing can move within strata.
    moving = [place for place, scores in enumerate(scored) if scores.any()]
    strata = {place: groups[judged[place].logged] for place in moving}
    splits = {
        place: prepare(strata[place], stratum_variances(scored[place], strata[place]))
        for place in moving
    }
    series = {place: scored[place].astype(np.float32)[:, None] for place in moving}
    own = np.array([float(lag_one(series[place], splits[place])[0]) for place in moving])
    counts = np.array([len(scored[place]) for place in moving])
    likeness = shared_likeness(own, counts)
    phis[moving] = likeness.expected
    tails = [
        tails_pulled_in(judged[place].scaled, scored[place], strata[place]) for place in moving
    ]
    leaning = dict(zip(moving, toward_spread(np.array(tails), counts).tolist(), strict=True))
    drawn = dict(zip(moving, likeness.draws(permutations, seed), strict=True))
    orders: dict[bytes, NDArray[np.int32]] = {}  # parameters that lack the same runs share them
    for place in moving:
        phi, logged = float(phis[place]), judged[place].logged
        if logged.tobytes() not in orders:
            orders[logged.tobytes()] = orders_of(shared, logged, groups)
        weighed[place, 0] = evidence(series[place], splits[place], phi, leaning[place])[0]
        innovations = whitened(scored[place], phi).astype(np.float32)
        again = refiltered(innovations[orders[logged.tobytes()]], drawn[place])
        weighed[place, 1:] = evidence(again, splits[place], phi, leaning[place])
    return step_down(tail_shares(weighed)) / _FOR_CHANGES, phis


def _outliers(judged: list[Column]) -> list[tuple[int, float]]:
    """Place and family-wise p (Bonferroni, within its share) of each column's farthest value."""
    found = []
    for column in judged:
        place, p = farthest_out(column.scaled)
        found.append((place, p * len(judged) / _FOR_OUTLIERS))
    return found
