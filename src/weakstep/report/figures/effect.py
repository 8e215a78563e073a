"""One parameter against failures, and what holding it to a limit would do."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.interval import Interval
from weakstep.report.names import Names
from weakstep.report.plot import (
    Axis,
    Band,
    Layer,
    Line,
    Mark,
    Plot,
    Rug,
    Span,
    Table,
    Whiskers,
    row_axis,
)
from weakstep.report.ticks import number_ticks, padded, percent_ticks
from weakstep.report.words import one_in, percent, percent_range

if TYPE_CHECKING:
    from collections.abc import Sequence

    from weakstep.failures.model import Curve, Factor, TighteningCurve
    from weakstep.runlog.model import RunTable


def against_failure(names: Names, factor: Factor, runs: RunTable) -> Plot | None:
    """Return failure probability against the parameter; None when no curve was fitted."""
    curve = factor.curve
    if curve is None or len(curve.values) < 2:
        return None
    if names.is_yes_no(factor.column):
        return _yes_against_no(names, factor, curve)
    column, family = factor.column, names.failures(factor.family)
    low, high = padded(
        float(curve.values.min()),
        float(curve.values.max()),
        log=names.on_log_axis(column, curve.values),
    )
    log = names.on_log_axis(column, curve.values)
    layers: list[Layer] = []
    if factor.window is not None:
        words = names.window(column, factor.window)
        layers.append(Span(factor.window.lower, factor.window.upper, "window", f"window: {words}"))
    layers += [
        Band(curve.values, curve.lower, curve.upper, "band", f"{curve.level * 100:g} % band"),
        Line(curve.values, curve.estimate, "main", f"chance of {family}"),
        *_rugs(factor, family, runs, low, high),
    ]
    top = min(1.0, float(np.nanmax(curve.upper)) * 1.08 + 0.01)
    return Plot(
        f"chance-{factor.family}-{column}",
        f"Estimated chance of {family} against {names.label(column)}",
        _chance_sentence(names, factor),
        Axis(names.with_unit(column), low, high, number_ticks(low, high, log=log), log=log),
        Axis(f"chance of {family}", 0.0, top, percent_ticks(0.0, top)),
        tuple(layers),
        _chance_table(names, factor, curve, _some(len(curve.values), 2 if is_flat(factor) else 9)),
    )


def _chance_table(names: Names, factor: Factor, curve: Curve, places: Sequence[int]) -> Table:
    column = factor.column
    return Table(
        f"Chance of {names.failures(factor.family)} against {names.label(column)}",
        (names.with_unit(column), "chance", f"{curve.level * 100:g} % band"),
        tuple(
            (names.bare(column, curve.values[i]), percent(curve.estimate[i]),
             _ends(curve, i))
            for i in places
        ),
        (not names.is_yes_no(column), True, True),
    )  # fmt: skip


def _ends(curve: Curve | TighteningCurve, place: int) -> str:
    """Return the ends of a curve's band at one of its points."""
    low, high = float(curve.lower[place]), float(curve.upper[place])
    return percent_range(Interval(low, low, high, curve.level))


def _yes_against_no(names: Names, factor: Factor, curve: Curve) -> Plot:
    """Return the chance with no and with yes, a row each."""
    column, family = factor.column, names.failures(factor.family)
    words = [names.bare(column, float(value)) for value in curve.values]
    hover = [
        f"{said}: {percent(curve.estimate[i])} ({_ends(curve, i)})" for i, said in enumerate(words)
    ]
    top = min(1.0, float(np.nanmax(curve.upper)) * 1.08 + 0.01)
    row = np.arange(len(words), dtype=float)
    lines = (curve.estimate, curve.lower, curve.upper)
    return Plot(
        f"chance-{factor.family}-{column}",
        f"Estimated chance of {family} with and without '{names.label(column)}'",
        f"{_chance_sentence(names, factor)} The line is the {curve.level * 100:g} % band.",
        Axis(f"chance of {family}", 0.0, top, percent_ticks(0.0, top)),
        row_axis(words),
        (Whiskers(row, *lines, "main", "dot", "", hover),),
        _chance_table(names, factor, curve, range(len(words))),
    )


def tightening(names: Names, factor: Factor, curve: TighteningCurve) -> Plot | None:
    """Return what holding the parameter to each possible limit would do; None without points."""
    if len(curve.limits) < 2:
        return None
    column, family = factor.column, names.failures(factor.family)
    side = "upper" if curve.side == "upper" else "lower"
    log = names.on_log_axis(column, curve.limits)
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
        f"Rate of {family} to expect for each {side} limit on {names.label(column)}",
        _tightening_sentence(names, factor, curve, limit),
        Axis(f"{side} limit on {names.with_unit(column)}, and the share of past runs that met it",
             low, high, ticks, log=log),
        Axis(f"rate of {family} to expect", 0.0, top, percent_ticks(0.0, top)),
        tuple(layers),
        Table(
            f"What each {side} limit on {names.label(column)} would do",
            (f"{side} limit ({names.unit(column)})" if names.unit(column) else f"{side} limit",
             "rate to expect", f"{curve.level * 100:g} % band", "past runs that met it"),
            tuple(
                (names.bare(column, curve.limits[i]), percent(curve.rate[i]),
                 _ends(curve, i),
                 percent(curve.share_met[i]))
                for i in _some(len(curve.limits), 9)
            ),
            (True, True, True, True),
        ),
    )  # fmt: skip


def _rugs(factor: Factor, family: str, runs: RunTable, low: float, high: float) -> list[Layer]:
    if factor.column not in runs.numbers:
        return []
    values = np.clip(runs.numbers[factor.column].to_numpy(dtype=float), low, high)
    failed = np.asarray(runs.failed.get(factor.family, np.zeros(len(values), dtype=int))) > 0
    known = np.isfinite(values)
    return [
        Rug(values[known & failed], "signal", top=True, name=f"runs with {family} (top)"),
        Rug(values[known & ~failed], "good", name="runs without (bottom)"),
    ]


def _some(length: int, wanted: int) -> list[int]:
    return sorted({round(place) for place in np.linspace(0, length - 1, min(wanted, length))})


def _met(curve: TighteningCurve, place: float) -> float:
    order = np.argsort(curve.limits)
    return float(np.interp(place, curve.limits[order], curve.share_met[order]))


def is_flat(factor: Factor) -> bool:
    """Whether the chance of failing is the same all along the curve, to the digits printed."""
    curve = factor.curve
    if curve is None:
        return False
    return percent(float(np.nanmin(curve.estimate))) == percent(float(np.nanmax(curve.estimate)))


def flat_words(names: Names, factor: Factor) -> str:
    """Return what a flat curve shows, its level with its band included."""
    curve = factor.curve
    if curve is None:
        return ""
    middle, low, high = np.nanmean(curve.estimate), np.nanmin(curve.lower), np.nanmax(curve.upper)
    band = Interval(float(middle), float(low), float(high), curve.level)
    said = f"{percent(band.estimate)} ({curve.level * 100:g}\u00a0% band: {percent_range(band)})"
    where = "over the logged range"
    if names.is_yes_no(factor.column):
        where = "between no and yes"
    return (
        f"The estimated chance of {names.failures(factor.family)} hardly changes {where}: {said}."
    )


def _chance_sentence(names: Names, factor: Factor) -> str:
    curve = factor.curve
    if curve is None:
        return ""
    if is_flat(factor):
        return flat_words(names, factor)
    best, worst = int(np.nanargmin(curve.estimate)), int(np.nanargmax(curve.estimate))
    low, high = float(curve.estimate[best]), float(curve.estimate[worst])
    family, column = names.failures(factor.family), factor.column
    said = (
        f"The estimated chance of {family} goes from {percent(low)} "
        f"{names.at(column, float(curve.values[best]))} to {percent(high)} "
        f"{names.at(column, float(curve.values[worst]))}."
    )
    if factor.window is not None and factor.share_inside is not None:
        said += f" {percent(factor.share_inside)} of past runs were inside the window."
    if factor.evidence == "none":
        said += " This log gives no evidence that the link is real."
    return said


def _side(curve: TighteningCurve) -> str:
    return "at or below" if curve.side == "upper" else "at or above"


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
    items = names.process.items
    picture = f", {one_in(rate)}" if 0 < rate < 1 else ""
    return (
        f"With every run held {_side(curve)} {names.value(factor.column, limit)}, expect "
        f"{names.failures(factor.family)} in {percent(rate)} of the {items}{picture}. "
        f"{percent(_met(curve, limit))} of past runs met that limit."
    )
