"""One parameter run by run: its chart, its signals, and what drifted."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.report.figures.happenings import Happening, lines, told
from weakstep.report.figures.signals import phrases_by_point
from weakstep.report.names import Names
from weakstep.report.plot import Axis, Band, Layer, Line, Plot, Points, Span, Table
from weakstep.report.ticks import number_ticks, padded, run_ticks
from weakstep.report.words import count, date, grouped, percent, plain

if TYPE_CHECKING:
    from collections.abc import Sequence

    from weakstep.charts.model import Chart
    from weakstep.drift.model import Drift
    from weakstep.runlog.model import RunTable

MOST_SIGNALS = 50
WEAR = (
    "This counter rises with use and starts anew at each service, so it has no control limits and "
    "no signals."
)
CROWD = 800  # runs; beyond, smaller marks keep a chart from turning solid


def in_time(
    names: Names,
    column: str,
    chart: Chart,
    runs: RunTable,
    drift: Drift | None,
    happened: Sequence[Happening] = (),
) -> Plot:
    """Return the individuals chart of one parameter: what drifted since when, what happened."""
    values = np.asarray(chart.values, dtype=float)
    x = np.arange(1, len(values) + 1, dtype=float)
    wears = drift is not None and drift.form == "cycle"
    phrases = {} if wears else phrases_by_point(chart)
    low, high, log = _value_range(names, column, chart, wears=wears)
    layers: list[Layer] = []
    if not wears:
        limits = chart.limits
        layers.append(Band(x, limits.lower, limits.upper, "band", "where a stable line stays"))
    layers += began_in(drift)
    layers += lines(happened, runs)
    if not wears:
        layers.append(Line(x, _centre_line(chart), "muted", "centre line", dashed=True))
    size, written = 2.6 if len(x) < CROWD else 1.6, _written(names, column)
    layers.append(Points(x, values, "main", "dot", size, "one run", run_value=written))
    layers += fitted_level(drift, len(x))
    layers += _signals(names, column, chart, runs, phrases)
    return Plot(
        f"time-{column}",
        f"{names.label(column)} run by run{'' if wears else ', with control limits'}",
        WEAR if wears else _time_sentence(chart, runs, phrases),
        Axis("runs in time order", 0.0, len(x) + 1.0, run_ticks(runs.started_at)),
        Axis(names.with_unit(column), low, high, number_ticks(low, high, log=log), log=log),
        tuple(layers),
        _values_table(names, column, chart, told(happened, runs))
        if wears
        else _signal_table(names, column, chart, runs, phrases, told(happened, runs)),
    )


def began_in(drift: Drift | None) -> list[Layer]:
    """Return the stretch in which each change began; nothing without one, nor for wear."""
    if drift is None or drift.form == "cycle":
        return []
    ends = [change.since_interval for change in drift.changes] or [drift.since_interval]
    names = ["change began in here (95 %)", *[""] * (len(ends) - 1)]
    return [
        Span(first + 0.5, last + 1.5, "window", name)
        for (first, last), name in zip(ends, names, strict=True)
    ]


def fitted_level(drift: Drift | None, count_runs: int) -> list[Layer]:
    """Return the level that fits a step or a ramp, over all runs; nothing for other forms."""
    if drift is None or drift.form not in ("step", "ramp"):
        return []
    x = np.arange(1, count_runs + 1, dtype=float)
    return [Line(x, drift_level(drift, count_runs), "ink", "level that fits the drift")]


def _centre_line(chart: Chart) -> np.ndarray:
    """Return the centre at every run, shape (n_runs,): that of its stage where limits differ."""
    limits = chart.limits
    if np.ptp(limits.upper[np.isfinite(limits.upper)]) == 0.0:
        return np.full(len(limits.upper), limits.centre)
    if "logarithm" in limits.sigma_from:
        return np.asarray(np.sqrt(limits.lower * limits.upper))
    return np.asarray((limits.lower + limits.upper) / 2.0)


def _signals(
    names: Names, column: str, chart: Chart, runs: RunTable, phrases: dict[int, str]
) -> list[Layer]:
    values = np.asarray(chart.values, dtype=float)
    at = np.array(sorted(point for point in phrases if np.isfinite(values[point])), dtype=int)
    if not len(at):
        return []
    hover = [
        f"{label}, {names.value(column, float(values[point]))}; {phrases[point]}"
        for point, label in zip(at, run_labels(runs, at), strict=True)
    ]
    return [Points(at + 1.0, values[at], "signal", "diamond", 5.5, "signal", hover)]


def drift_level(drift: Drift, count_runs: int) -> np.ndarray:
    """
    Return the level a step or ramp fits to every run, shape (n_runs,).

    The ramp runs straight from `before` at its start to `after` at the last run; several changes
    are as many stairs.
    """
    place = np.arange(count_runs)
    if drift.changes:
        level = np.full(count_runs, drift.changes[0].before)
        for change in drift.changes:
            level[change.since :] = change.after
        return level
    if drift.form == "step":
        return np.where(place < drift.since, drift.before, drift.after)
    length = max(1, count_runs - 1 - drift.since)
    way = np.clip((place - drift.since) / length, 0.0, 1.0)
    return np.asarray(drift.before + way * (drift.after - drift.before))


def _value_range(
    names: Names, column: str, chart: Chart, *, wears: bool
) -> tuple[float, float, bool]:
    values = np.asarray(chart.values, dtype=float)
    log = names.on_log_axis(column, values)
    limits = () if wears else (chart.limits.lower, chart.limits.upper)
    ends = np.concatenate([values, *limits])
    ends = ends[np.isfinite(ends)]
    if log:
        ends = np.maximum(ends, float(np.nanmin(values)))
    low, high = padded(float(ends.min()), float(ends.max()), log=log)
    return low, high, log


def run_labels(runs: RunTable, at: np.ndarray | None = None) -> list[str]:
    """Return who and when for every run, or for those at some places, as a hover says it."""
    places = np.arange(len(runs)) if at is None else at
    days = np.asarray(runs.started_at, dtype="datetime64[D]")[places]
    spoken = {day: date(day) for day in np.unique(days)}
    return [
        ", ".join(
            filter(None, (f"run {run_id}", spoken.get(day, ""), operator and f"by {operator}"))
        )
        for run_id, day, operator in zip(
            runs.run_id[places], days, runs.operator[places], strict=True
        )
    ]


def _written(names: Names, column: str) -> str:
    parameter, unit = names.parameter(column), names.unit(column)
    digits = f":.{parameter.decimals}f" if parameter else ""
    return f"%{{y{digits}}} {unit}".strip()


def _time_sentence(chart: Chart, runs: RunTable, phrases: dict[int, str]) -> str:
    found = len(phrases)
    stable = (
        f"Even a stable line of this length signals at least once in {percent(chart.false_alarm)} "
        f"of logs."
    )
    if not found:
        return f"No run signals. {stable}"
    first = min(phrases)
    where = f"run {runs.run_id[first]}"
    moment = date(runs.started_at[first])
    where += f" on {moment}" if moment else ""
    if found == 1:
        return f"One run signals: {where} ({phrases[first]}). {stable}"
    return f"{found} runs signal; the first is {where} ({phrases[first]}). {stable}"


def _sigma(names: Names, column: str, chart: Chart) -> str:
    # On the scale of logarithms sigma has no unit, and other digits than the values.
    if "logarithm" in chart.limits.sigma_from:
        return plain(chart.limits.sigma)
    return names.value(column, chart.limits.sigma)


def _values_table(names: Names, column: str, chart: Chart, happened: str) -> Table:
    known = chart.values[np.isfinite(chart.values)]
    note = (
        f"From {names.bare(column, known.min())} to {names.value(column, known.max())}; "
        f"{_logged(chart)}."
    )
    return Table(f"Values: {names.label(column)}", (), (), note=f"{note} {happened}".strip())


def _logged(chart: Chart) -> str:
    missing = int((~np.isfinite(chart.values)).sum())
    if not missing:
        return "every run has a value"
    known = count(len(chart.values) - missing, "run")
    return f"{known} with a value, {grouped(missing)} without"


def _signal_table(
    names: Names, column: str, chart: Chart, runs: RunTable, phrases: dict[int, str], happened: str
) -> Table:
    limits = chart.limits
    fixed = np.ptp(limits.lower) == 0 and np.ptp(limits.upper) == 0
    ends = f"{names.bare(column, limits.lower[0])} to {names.value(column, limits.upper[0])}"
    note = (
        f"Centre line {names.value(column, limits.centre)}; limits {ends if fixed else 'vary'}; "
        f"sigma {_sigma(names, column, chart)} from {limits.sigma_from}; "
        f"{_logged(chart)}."
    )
    if happened:
        note += f" {happened}"
    if len(phrases) > MOST_SIGNALS:
        note += f" The first {MOST_SIGNALS} signals; all of them are in tables/signals.csv."
    rows = tuple(
        (str(runs.run_id[i]), date(runs.started_at[i]) or "–", str(runs.operator[i]) or "–",
         names.value(column, float(chart.values[i])), phrases[i])
        for i in sorted(phrases)[:MOST_SIGNALS]
    )  # fmt: skip
    return Table(
        f"Runs that signal: {names.label(column)}",
        ("run", "date", "operator", "value", "pattern"),
        rows,
        (False, False, False, True, False),
        note,
    )
