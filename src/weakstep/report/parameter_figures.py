"""The figures of one parameter: in time, against failure, and what holding it would do."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.report.names import Names
from weakstep.report.plot import (
    Axis,
    Band,
    Layer,
    Line,
    Mark,
    Plot,
    Points,
    Rug,
    Span,
    Table,
)
from weakstep.report.ticks import number_ticks, padded, percent_ticks, run_ticks
from weakstep.report.words import count, date, listed, one_in, percent

if TYPE_CHECKING:
    from weakstep.charts.model import Chart
    from weakstep.drift.model import Drift
    from weakstep.failures.model import Factor, TighteningCurve
    from weakstep.runlog.model import RunTable

LOG_AXIS_FROM = 5.0


def in_time(names: Names, column: str, chart: Chart, runs: RunTable, drift: Drift | None) -> Plot:
    """Return the individuals chart of one parameter, with what drifted and since when."""
    values = np.asarray(chart.values, dtype=float)
    x = np.arange(1, len(values) + 1, dtype=float)
    phrases = phrases_by_point(chart)
    low, high, log = _value_range(names, column, chart)
    layers: list[Layer] = []
    if drift is not None and drift.form != "cycle":
        first, last = drift.since_interval
        layers.append(Span(first + 0.5, last + 1.5, "window", "change began in here (95 %)"))
    layers += [
        Band(x, chart.limits.lower, chart.limits.upper, "band", "where a stable line stays"),
        Line(x, np.full(len(x), chart.limits.centre), "muted", "centre line", dashed=True),
        Points(x, values, "main", "dot", 2.6, "one run", _run_hover(names, column, runs, values)),
    ]
    if drift is not None and drift.form in ("step", "ramp"):
        layers.append(Line(x, drift_level(drift, len(x)), "ink", "level that fits the drift"))
    at = np.array(sorted(point for point in phrases if np.isfinite(values[point])), dtype=int)
    if len(at):
        said = _run_hover(names, column, runs, values)
        hover = [f"{said[point]}; {phrases[point]}" for point in at]
        layers.append(Points(x[at], values[at], "signal", "diamond", 5.5, "signal", hover))
    return Plot(
        f"time-{column}",
        f"{names.label(column)} run by run, with control limits",
        _time_sentence(names, column, chart, runs, phrases),
        Axis("runs in time order", 0.0, len(x) + 1.0, run_ticks(runs.started_at)),
        Axis(names.with_unit(column), low, high, number_ticks(low, high, log=log), log=log),
        tuple(layers),
        _signal_table(names, column, chart, runs, phrases),
    )


def against_failure(names: Names, factor: Factor, runs: RunTable) -> Plot | None:
    """Return failure probability against the parameter; None when no curve was fitted."""
    curve = factor.curve
    if curve is None or len(curve.values) < 2:
        return None
    column, family = factor.column, names.family(factor.family)
    low, high = padded(
        float(curve.values.min()), float(curve.values.max()), log=_log(names, column, curve.values)
    )
    log = _log(names, column, curve.values)
    layers: list[Layer] = []
    if factor.window is not None:
        words = names.window(column, factor.window)
        layers.append(Span(factor.window.lower, factor.window.upper, "window", f"window: {words}"))
    layers += [
        Band(curve.values, curve.lower, curve.upper, "band", f"{curve.level * 100:g} % band"),
        Line(curve.values, curve.estimate, "main", f"chance of a {family} failure"),
        *_rugs(factor, family, runs, low, high),
    ]
    top = min(1.0, float(np.nanmax(curve.upper)) * 1.08 + 0.01)
    return Plot(
        f"chance-{factor.family}-{column}",
        f"Estimated chance of a {family} failure against {names.label(column)}",
        _chance_sentence(names, factor),
        Axis(names.with_unit(column), low, high, number_ticks(low, high, log=log), log=log),
        Axis(f"chance of a {family} failure", 0.0, top, percent_ticks(0.0, top)),
        tuple(layers),
        Table(
            f"Estimated chance of a {family} failure",
            (names.with_unit(column), "chance", f"{curve.level * 100:g} % band"),
            tuple(
                (names.bare(column, curve.values[i]), percent(curve.estimate[i]),
                 f"{percent(curve.lower[i])} to {percent(curve.upper[i])}")
                for i in _some(len(curve.values))
            ),
            (True, True, True),
        ),
    )  # fmt: skip


def tightening(names: Names, factor: Factor, curve: TighteningCurve) -> Plot | None:
    """Return what holding the parameter to each possible limit would do; None without points."""
    if len(curve.limits) < 2:
        return None
    column, family = factor.column, names.family(factor.family)
    side = "upper" if curve.side == "upper" else "lower"
    log = _log(names, column, curve.limits)
    low, high = padded(float(curve.limits.min()), float(curve.limits.max()), log=log)
    layers: list[Layer] = [
        Band(curve.limits, curve.lower, curve.upper, "band", f"{curve.level * 100:g} % band"),
        Line(curve.limits, curve.rate, "main", "failure rate to expect"),
    ]
    limit = getattr(factor.window, side) if factor.window is not None else None
    if limit is not None:
        layers.append(Mark(limit, "signal", f"proposed limit: {names.value(column, limit)}"))
    ticks = [
        (place, f"{text}\n{percent(_met(curve, place))}")
        for place, text in number_ticks(low, high, log=log)
    ]
    top = min(1.0, float(np.nanmax(curve.upper)) * 1.08 + 0.01)
    return Plot(
        f"tighten-{side}-{factor.family}-{column}",
        f"Rate of {family} failures to expect for each {side} limit on {names.label(column)}",
        _tightening_sentence(names, factor, curve, limit),
        Axis(f"{side} limit on {names.with_unit(column)}; below it: past runs that met it",
             low, high, ticks, log=log),
        Axis(f"rate of {family} failures to expect", 0.0, top, percent_ticks(0.0, top)),
        tuple(layers),
        Table(
            f"What each {side} limit would do",
            (f"{side} limit ({names.unit(column)})" if names.unit(column) else f"{side} limit",
             "rate to expect", f"{curve.level * 100:g} % band", "past runs that met it"),
            tuple(
                (names.bare(column, curve.limits[i]), percent(curve.rate[i]),
                 f"{percent(curve.lower[i])} to {percent(curve.upper[i])}", percent(curve.share_met[i]))
                for i in _some(len(curve.limits))
            ),
            (True, True, True, True),
        ),
    )  # fmt: skip


def phrases_by_point(chart: Chart) -> dict[int, str]:
    """Return, for every point that signals, the plain phrases of its patterns."""
    found: dict[int, list[str]] = {}
    for signal in chart.signals:
        found.setdefault(signal.at, []).append(signal.phrase)
    return {point: listed(list(dict.fromkeys(said))) for point, said in found.items()}


def drift_level(drift: Drift, count_runs: int) -> np.ndarray:
    """
    Return the level a step or ramp fits to every run, shape (n_runs,).

    The ramp runs straight from `before` at its start to `after` at the last run.
    """
    place = np.arange(count_runs)
    if drift.form == "step":
        return np.where(place < drift.since, drift.before, drift.after)
    length = max(1, count_runs - 1 - drift.since)
    way = np.clip((place - drift.since) / length, 0.0, 1.0)
    return np.asarray(drift.before + way * (drift.after - drift.before))


def _log(names: Names, column: str, values: np.ndarray) -> bool:
    parameter = names.parameter(column)
    known = values[np.isfinite(values)]
    if parameter is None or parameter.scale != "log" or not len(known) or known.min() <= 0:
        return False
    return bool(known.max() / known.min() >= LOG_AXIS_FROM)


def _value_range(names: Names, column: str, chart: Chart) -> tuple[float, float, bool]:
    values = np.asarray(chart.values, dtype=float)
    log = _log(names, column, values)
    ends = np.concatenate([values, chart.limits.lower, chart.limits.upper])
    ends = ends[np.isfinite(ends)]
    if log:
        ends = np.maximum(ends, float(np.nanmin(values)))
    low, high = padded(float(ends.min()), float(ends.max()), log=log)
    return low, high, log


def _run_hover(names: Names, column: str, runs: RunTable, values: np.ndarray) -> list[str]:
    said = []
    for run_id, moment, operator, value in zip(
        runs.run_id, runs.started_at, runs.operator, values, strict=True
    ):
        parts = [f"run {run_id}", date(moment), f"by {operator}" if operator else ""]
        said.append(", ".join([*filter(None, parts), names.value(column, value)]))
    return said


def _rugs(factor: Factor, family: str, runs: RunTable, low: float, high: float) -> list[Layer]:
    if factor.column not in runs.numbers:
        return []
    values = np.clip(runs.numbers[factor.column].to_numpy(dtype=float), low, high)
    failed = np.asarray(runs.failed.get(factor.family, np.zeros(len(values), dtype=int))) > 0
    known = np.isfinite(values)
    return [
        Rug(values[known & failed], "signal", top=True, name=f"runs with a {family} failure (top)"),
        Rug(values[known & ~failed], "good", name="runs without (bottom)"),
    ]


def _some(length: int, wanted: int = 9) -> list[int]:
    return sorted({round(place) for place in np.linspace(0, length - 1, min(wanted, length))})


def _met(curve: TighteningCurve, place: float) -> float:
    order = np.argsort(curve.limits)
    return float(np.interp(place, curve.limits[order], curve.share_met[order]))


def _time_sentence(
    names: Names, column: str, chart: Chart, runs: RunTable, phrases: dict[int, str]
) -> str:
    found = len(phrases)
    stable = (
        f"A stable line of this length shows at least one signal in {percent(chart.false_alarm)} "
        f"of logs."
    )
    if not found:
        return f"No run stands out from the pale band. {stable}"
    first = min(phrases)
    where = f"run {runs.run_id[first]}"
    moment = date(runs.started_at[first])
    where += f" on {moment}" if moment else ""
    said = f"{count(found, 'run signals', 'runs signal')}; the first is {where} ({phrases[first]})."
    return f"{said} {stable}"


def _signal_table(
    names: Names, column: str, chart: Chart, runs: RunTable, phrases: dict[int, str]
) -> Table:
    limits = chart.limits
    fixed = np.ptp(limits.lower) == 0 and np.ptp(limits.upper) == 0
    ends = f"{names.bare(column, limits.lower[0])} to {names.value(column, limits.upper[0])}"
    known = int(np.isfinite(chart.values).sum())
    note = (
        f"Centre line {names.value(column, limits.centre)}; limits {ends if fixed else 'vary'}; "
        f"sigma {names.value(column, limits.sigma)} from {limits.sigma_from}; "
        f"{count(known, 'run')} with a value, {len(chart.values) - known} without. "
        f"Every value stands in the table of runs at the end of the page and in tables/runs.csv."
    )
    rows = tuple(
        (str(runs.run_id[i]), date(runs.started_at[i]) or "–", str(runs.operator[i]) or "–",
         names.value(column, float(chart.values[i])), phrases[i])
        for i in sorted(phrases)
    )  # fmt: skip
    return Table(f"Runs that signal: {names.label(column)}", ("run", "date", "operator", "value", "pattern"),
                 rows, (False, False, False, True, False), note)  # fmt: skip


def _chance_sentence(names: Names, factor: Factor) -> str:
    curve = factor.curve
    if curve is None:
        return ""
    best, worst = int(np.nanargmin(curve.estimate)), int(np.nanargmax(curve.estimate))
    low, high = float(curve.estimate[best]), float(curve.estimate[worst])
    family, column = names.family(factor.family), factor.column
    if percent(low) == percent(high):
        return f"The estimated chance of a {family} failure hardly changes over the logged range."
    said = (
        f"The estimated chance of a {family} failure goes from {percent(low)} at "
        f"{names.value(column, float(curve.values[best]))} to {percent(high)} at "
        f"{names.value(column, float(curve.values[worst]))}."
    )
    if factor.window is not None and factor.share_inside is not None:
        said += f" {percent(factor.share_inside)} of past runs were inside the window."
    if factor.evidence == "none":
        said += " This log gives no evidence that the link is real."
    return said


def _tightening_sentence(
    names: Names, factor: Factor, curve: TighteningCurve, limit: float | None
) -> str:
    if limit is None:
        ends = (float(np.nanmin(curve.rate)), float(np.nanmax(curve.rate)))
        return (
            f"Over every possible limit the rate to expect stays between {percent(ends[0])} and "
            f"{percent(ends[1])}."
        )
    order = np.argsort(curve.limits)
    rate = float(np.interp(limit, curve.limits[order], curve.rate[order]))
    return (
        f"Held to {names.value(factor.column, limit)}, {one_in(rate)} would fail by "
        f"{names.family(factor.family)}; {percent(_met(curve, limit))} of past runs met that limit."
    )
