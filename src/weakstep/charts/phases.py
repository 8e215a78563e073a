"""Baseline and monitoring, stages between services, strata: limits that differ along one chart."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import places, whole_number
from weakstep.charts.false_alarms import false_alarm
from weakstep.charts.frozen import frozen
from weakstep.charts.model import Chart, Limits
from weakstep.charts.patterns import DEFAULT_PATTERNS, find_signals
from weakstep.charts.row_checks import one_row
from weakstep.charts.single_values import Row, SigmaBy, estimate
from weakstep.charts.variables import individuals
from weakstep.charts.zone_chain import USUAL_WIDTH
from weakstep.errors import NotEnoughError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

LEAST_IN_STAGE = 8  # values; a shorter stage has no limits of its own


def monitored(
    values: ArrayLike,
    n_baseline: int,
    *,
    left_out: Sequence[int] = (),
    sigma_by: SigmaBy = "mean moving range",
    log_scale: bool = False,
) -> tuple[Chart, Chart]:
    """
    Individuals chart whose limits come from the first runs and hold for all.

    Points are left out of the baseline only where the caller says so, once; what signals in the
    baseline is told in a note, and the limits are not computed again without it.

    Parameters
    ----------
    values : array_like, shape (n_runs,)
        In time order; NaN where not logged.
    n_baseline : int
        Runs of the baseline, from the first on.
    left_out : sequence of int
        Places (from 0) of baseline runs with a known cause.
    sigma_by, log_scale
        As for `weakstep.charts.variables.individuals`.

    Returns
    -------
    individuals, moving_range : Chart

    Raises
    ------
    ValueError
        The baseline is longer than the log, or a run left out is not in it.
    NotEnoughError
        The baseline holds too few values.

    Examples
    --------
    >>> chart, _ = monitored([1.0, 2.0, 9.0, 1.0, 2.0, 9.0], 5, left_out=[2])
    >>> chart.limits.centre, [signal.at for signal in chart.signals]
    (1.5, [2, 5])
    """
    row = one_row(values)
    n_baseline, left_out = whole_number("n_baseline", n_baseline, 0), places("left_out", left_out)
    outside = [place for place in left_out if not 0 <= place < n_baseline]
    if not 2 <= n_baseline <= len(row) or outside:
        msg = (
            f"the baseline must hold 2 to {len(row)} runs and those left out, got {n_baseline} "
            f"runs and {list(left_out)} left out"
        )
        raise ValueError(msg)
    used = np.arange(len(row)) < n_baseline
    used[list(left_out)] = False
    charts = individuals(row, log_scale=log_scale, baseline=used, sigma_by=sigma_by)
    notes = [f"Limits come from the first {n_baseline} runs and hold for all that follow."]
    if left_out:
        told = ", ".join(str(place + 1) for place in left_out)
        notes.append(f"Left out of the baseline, for a cause that was given: run {told}.")
    inside = [s.at for s in charts[0].signals if used[s.at]]
    if inside:
        told = ", ".join(str(place + 1) for place in inside)
        notes.append(
            f"The baseline itself signals (run {told}) and was kept whole: find the cause, "
            "and leave the run out only if there is one."
        )
    first, second = (replace(chart, notes=(*notes, *chart.notes)) for chart in charts)
    return first, second


def staged(
    values: ArrayLike,
    starts: Sequence[int],
    *,
    sigma_by: SigmaBy = "mean moving range",
    log_scale: bool = False,
) -> Chart:
    """
    Individuals chart with new limits after each service (an oil change, a new mould).

    Parameters
    ----------
    values : array_like, shape (n_runs,)
        In time order; NaN where not logged.
    starts : sequence of int
        Place (from 0) of the first run after each service.
    sigma_by, log_scale
        As for `weakstep.charts.variables.individuals`.

    Returns
    -------
    Chart
        `limits.centre`, `sigma` and degrees of freedom are those of the last stage that has its
        own limits; `lower` and `upper` go stage by stage, NaN where a stage is too short.

    Raises
    ------
    ValueError
        A start lies outside the log.
    NotEnoughError
        No stage holds 8 values that vary.

    Examples
    --------
    >>> chart = staged(np.r_[np.tile([1.0, 2.0], 5), np.tile([5.0, 6.0], 5)], [10])
    >>> chart.limits.upper[[0, 10]].round(2).tolist()
    [4.16, 8.16]
    """
    row, starts = one_row(values), places("starts", starts)
    if any(not 0 < start < len(row) for start in starts):
        msg = f"starts must lie from 1 to {len(row) - 1}, got {list(starts)}"
        raise ValueError(msg)
    stage = np.searchsorted(np.sort(np.asarray(starts, dtype=int)), np.arange(len(row)), "right")
    names = [f"stage {number + 1}" for number in range(len(set(starts)) + 1)]
    return _by_group(row, stage, names, (sigma_by, log_scale), in_a_row=False)


def by_strata(
    values: ArrayLike,
    strata: ArrayLike,
    *,
    sigma_by: SigmaBy = "mean moving range",
    log_scale: bool = False,
) -> Chart:
    """
    Individuals chart on which each stratum (operator, mould, machine) has its own limits.

    Moving ranges are those between neighbours of one stratum. Patterns look at the distances from
    each stratum's own centre in time order, so a change that all make together still shows.

    Parameters
    ----------
    values : array_like, shape (n_runs,)
        In time order; NaN where not logged.
    strata : array_like of str, shape (n_runs,)
    sigma_by, log_scale
        As for `weakstep.charts.variables.individuals`.

    Returns
    -------
    Chart
        `limits.centre`, `sigma` and degrees of freedom are those of the stratum with most values.

    Raises
    ------
    ValueError
        *strata* has another length.
    NotEnoughError
        No stratum holds 8 values that vary.

    Examples
    --------
    >>> chart = by_strata(np.tile([1.0, 5.0, 2.0, 6.0], 5), np.tile(["A", "B"], 10))
    >>> chart.limits.upper[:2].round(2).tolist(), chart.signals
    ([4.16, 8.16], ())
    """
    row = one_row(values)
    names, codes = np.unique(np.asarray(strata, dtype=str), return_inverse=True)
    if codes.shape != row.shape:
        msg = f"strata must name each of the {len(row)} runs, got shape {codes.shape}"
        raise ValueError(msg)
    return _by_group(row, codes, names.tolist(), (sigma_by, log_scale), in_a_row=True)


def _by_group(
    shown: Floats,
    codes: NDArray[np.intp],
    names: Sequence[str],
    how: tuple[SigmaBy, bool],
    *,
    in_a_row: bool,
) -> Chart:
    """Chart with limits of its own for each group; patterns go across groups only if *in_a_row*."""
    sigma_by, log_scale = how
    logged = ~np.isnan(shown)
    logs = log_scale and bool((shown[logged] > 0.0).all())
    z, lower, upper = (np.full(shown.shape, np.nan) for _ in range(3))
    found, short = {}, []
    for code, name in enumerate(names):
        inside = codes == code
        row = Row(shown[inside], logged[inside], logs, np.ones(int(inside.sum()), dtype=bool))
        if row.count < LEAST_IN_STAGE or np.ptp(row.known) == 0.0:
            short.append(name)
            continue
        own = estimate(row, sigma_by, None, None)
        found[code] = own
        z[inside] = (row.scaled - own.centre) / own.sigma
        lower[inside] = row.back(own.centre - USUAL_WIDTH * own.sigma)
        upper[inside] = row.back(own.centre + USUAL_WIDTH * own.sigma)
    if not found:
        msg = f"No group holds {LEAST_IN_STAGE} values that vary, so none has limits of its own."
        raise NotEnoughError(msg)
    shown_for = max(found, key=lambda code: (codes == code).sum()) if in_a_row else max(found)
    own = found[shown_for]
    parts = [z] if in_a_row else [np.where(codes == code, z, np.nan) for code in found]
    signals = [signal for part in parts for signal in find_signals(part, DEFAULT_PATTERNS)]
    stable = np.prod([1.0 - false_alarm(int((~np.isnan(part)).sum())) for part in parts])
    return Chart(
        kind="individuals",
        values=shown,
        limits=Limits(
            centre=float(np.exp(own.centre) if logs else own.centre),
            lower=frozen(lower),
            upper=frozen(upper),
            sigma=own.sigma,
            sigma_from=f"{own.sigma_from}, of {names[shown_for]}",
            degrees_of_freedom=own.degrees_of_freedom,
        ),
        signals=tuple(sorted(signals, key=lambda signal: (signal.at, signal.pattern))),
        false_alarm=float(1.0 - stable),
        notes=_group_notes(len(found), short),
    )


def _group_notes(count: int, short: Sequence[str]) -> tuple[str, ...]:
    notes = [f"Each of {count} groups has its own limits."] if count > 1 else []
    if short:
        notes.append(
            f"Too few values that vary for limits of their own (at least {LEAST_IN_STAGE}): "
            f"{', '.join(short)}."
        )
    return tuple(notes)
