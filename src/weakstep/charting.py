"""RunLog -> charts of its parameters: limits, stages and strata, and how they keep tolerances."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from weakstep.errors import NotEnoughError

if TYPE_CHECKING:
    from weakstep.charts.model import Chart
    from weakstep.charts.tolerance import Tolerance
    from weakstep.drift.model import DriftScreen
    from weakstep.runlog.model import RunLog

NO_LIMITS = "A yes or no has no control limits, so no run of it signals."
DIFFERENT = 0.01  # chance of levels as different as these, over all ways to group one parameter
MOST_STRATA = 12  # more say nothing a reader could follow
# Identities that a parameter's level may depend on; others name single rows.
STRATA = ("operator", "mould_id", "plasma_machine")


@dataclass(frozen=True, eq=False)
class OwnLimits:
    """
    A parameter whose level differs between stages or strata, charted with limits for each.

    Attributes
    ----------
    by : str
        "service", or the column of the strata.
    names : tuple of str
        Of the stages or strata that have limits.
    first : tuple of int
        Index of a run of each.
    chart : Chart
    signals_together : int
        Signals on a chart with one set of limits for the whole log.
    """

    by: str
    names: tuple[str, ...]
    first: tuple[int, ...]
    chart: Chart
    signals_together: int


def on_log_scale(log: RunLog, column: str) -> bool:
    """Whether a parameter is charted on the scale of logarithms."""
    from weakstep.charts.fitness import suits_log_scale

    values = log.runs.numbers[column].to_numpy(dtype=float)
    wanted = log.process.parameter(column).scale == "log" or suits_log_scale(values)
    return wanted and bool((values[~np.isnan(values)] > 0.0).all())


def parameter_charts(log: RunLog) -> tuple[dict[str, tuple[Chart, Chart]], dict[str, str]]:
    """Chart each number of the log; where that cannot be done, keep the reason."""
    from weakstep.charts.variables import individuals

    charts: dict[str, tuple[Chart, Chart]] = {}
    not_charted: dict[str, str] = {}
    for column in log.runs.numbers.columns:
        values = log.runs.numbers[column].to_numpy(dtype=float)
        if log.process.parameter(column).kind == "yes_no":
            not_charted[column] = NO_LIMITS
            continue
        try:
            charts[column] = individuals(values, log_scale=on_log_scale(log, column))
        except NotEnoughError as reason:
            not_charted[column] = str(reason)
    return charts, not_charted


def services_in(screen: DriftScreen) -> list[tuple[str, int]]:
    """Counters that were set back, and the index of the first run since."""
    from weakstep.drift.nearby import services_of

    cycles = [drift for drift in screen.drifts if drift.form == "cycle"]
    return [(cycle.column, run) for cycle in cycles for run in services_of(cycle)]


def own_limits(
    log: RunLog, charts: Mapping[str, tuple[Chart, Chart]], services: Iterable[tuple[str, int]]
) -> dict[str, OwnLimits]:
    """
    Give limits of their own to the stages or strata between which a parameter's level differs.

    Stages lie between services of the counters of the parameter's own step (an oil change, a new
    mould); strata are operators, moulds and machines. Each way to group is tested (Kruskal and
    Wallis, `DIFFERENT` shared among them), and the clearest is taken.

    Parameters
    ----------
    log : RunLog
    charts : mapping of column to (Chart, Chart)
    services : iterable of (column, run)
        Counters that were set back, and the index of the first run since.

    Returns
    -------
    dict of column to OwnLimits
        Only parameters whose level differs.
    """
    from weakstep.charts.levels import levels_differ

    by_step: dict[str, set[int]] = {}
    for counter, run in services:
        by_step.setdefault(log.process.parameter(counter).step, set()).add(run)
    found = {}
    for column, (chart, _) in charts.items():
        parameter = log.process.parameter(column)
        if parameter.role == "counter":
            continue
        ways = _strata(log)
        stages = _stages(chart.values, by_step.get(parameter.step, set()))
        if stages is not None:
            ways["service"] = stages
        chances = {by: levels_differ(chart.values, codes) for by, codes in ways.items()}
        if chances and min(chances.values()) <= DIFFERENT / len(chances):
            best = min(chances, key=lambda by: chances[by])
            one = _own_limits(log, column, best, ways[best], len(chart.signals))
            if one is not None:
                found[column] = one
    return found


def _strata(log: RunLog) -> dict[str, np.ndarray]:
    runs = log.runs
    columns = {name: runs.categories[name].to_numpy(dtype=str) for name in runs.categories.columns}
    columns["operator"] = runs.operator.astype(str)
    return {
        name: columns[name]
        for name in STRATA
        if name in columns and 1 < len(set(columns[name])) <= MOST_STRATA
    }


def _stages(values: np.ndarray, starts: set[int]) -> np.ndarray | None:
    """Return the number of each run's stage, short stages joined; None for a single stage."""
    from weakstep.charts.phases import LEAST_IN_STAGE

    logged = ~np.isnan(values)
    kept: list[int] = []
    for start in sorted(start for start in starts if 0 < start < len(values)):
        before = logged[kept[-1] if kept else 0 : start].sum()
        if before >= LEAST_IN_STAGE and logged[start:].sum() >= LEAST_IN_STAGE:
            kept.append(start)
    if not kept:
        return None
    return np.searchsorted(np.array(kept), np.arange(len(values)), "right")


def _own_limits(
    log: RunLog, column: str, by: str, codes: np.ndarray, signals_together: int
) -> OwnLimits | None:
    from weakstep.charts.phases import by_strata, staged

    values = log.runs.numbers[column].to_numpy(dtype=float)
    scale = on_log_scale(log, column)
    try:
        if by == "service":
            starts = (np.flatnonzero(np.diff(codes)) + 1).tolist()
            chart = staged(values, starts, log_scale=scale)
        else:
            chart = by_strata(values, codes, log_scale=scale)
    except NotEnoughError:
        return None
    limited = np.isfinite(chart.limits.lower)
    labels, first = np.unique(codes[limited], return_index=True)
    if len(labels) < 2:
        return None
    names = tuple(
        f"stage {int(label) + 1}" if by == "service" else str(label) or "not written"
        for label in labels
    )
    places = tuple(int(place) for place in np.flatnonzero(limited)[first])
    return OwnLimits(by, names, places, chart, signals_together)


def with_stages(
    charts: Mapping[str, tuple[Chart, Chart]], own: Mapping[str, OwnLimits]
) -> dict[str, tuple[Chart, Chart]]:
    """Charts in which parameters with stages carry the limits of each, fitness notes kept."""
    shown = dict(charts)
    for column, one in own.items():
        if one.by == "service":
            plain, ranges = charts[column]
            shown[column] = (replace(one.chart, notes=plain.notes), ranges)
    return shown


def tolerances(
    log: RunLog, charts: Mapping[str, tuple[Chart, Chart]], screen: DriftScreen
) -> dict[str, Tolerance]:
    """
    Judge every parameter that has a tolerance; refused where the screen does not call it stable.

    Parameters
    ----------
    log : RunLog
    charts : mapping of column to (Chart, Chart)
        With one set of limits for the whole log.
    screen : DriftScreen

    Returns
    -------
    dict of column to Tolerance
    """
    from weakstep.charts.tolerance import judge_tolerance

    moved = {
        drift.column: f"{_FORMS[drift.form]} run {log.runs.run_id[drift.since]}"
        for drift in screen.drifts
        if drift.evidence != "none" or drift.form == "cycle"
    }
    moved |= {column: f"too little to judge ({reason})" for column, reason in screen.too_little}
    found = {}
    for column, (chart, _) in charts.items():
        parameter = log.process.parameter(column)
        if parameter.tolerance_low is None and parameter.tolerance_high is None:
            continue
        found[column] = judge_tolerance(
            chart.values,
            lower=parameter.tolerance_low,
            upper=parameter.tolerance_high,
            limits=chart.limits,
            on_log_scale="logarithm" in chart.limits.sigma_from,
            moved=moved.get(column),
        )
    return found


_FORMS = {
    "step": "a step since",
    "ramp": "a ramp since",
    "spread": "another spread since",
    "outliers": "a value far out at",
    "cycle": "it wears and is set back, last at",
}
