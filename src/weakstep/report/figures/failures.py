"""Failures over the log: when they happened, and in which modes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from weakstep.report.figures.signals import phrases_by_point
from weakstep.report.names import Names
from weakstep.report.plot import (
    Axis,
    Band,
    Bars,
    Dashes,
    Layer,
    Line,
    Mark,
    Plot,
    Points,
    Table,
    Tone,
    row_axis,
)
from weakstep.report.ticks import ISO_DATE, percent_ticks, period_ticks
from weakstep.report.words import count, date, listed, one_in, percent, share_words
from weakstep.reviewing import RUNS_PER_POINT

if TYPE_CHECKING:
    from weakstep.failures.model import Tally
    from weakstep.reviewing import FailureChart
    from weakstep.semesters.model import Event

FAMILY_TONES: tuple[Tone, ...] = ("main", "fourth", "fifth", "good", "muted")
EVENTS: dict[str, tuple[str, Tone, Dashes]] = {
    "change": ("change made by the lab", "ink", "dashed"),
    "semester": ("a semester begins", "muted", "dotted"),
}
MOST_ROWS = 30
MOST_TOLD = 12
MOST_PERIODS = 3


def failures_in_time(
    item: str, items: str, source: FailureChart, events: Sequence[Event] = ()
) -> Plot:
    """
    Return the chart of the failed share by week (or by group of runs), with its limits.

    Changes made by the lab and semesters among *events* are upright lines.
    """
    chart = source.chart
    x = np.arange(1, len(source.labels) + 1, dtype=float)
    spoken = [spoken_label(label) for label in source.labels]
    hover = [
        f"{label}: {failed} of {count(int(tested), item, items)} failed"
        for label, failed, tested in zip(spoken, source.failed, source.tested, strict=True)
    ]
    phrases = phrases_by_point(source.chart)
    at = np.array(sorted(phrases), dtype=int)
    placed = _placed(source.labels, events)
    limits, whole = chart.limits, np.full(len(x), chart.limits.centre)
    top = min(1.0, 1.08 * float(np.nanmax([*chart.values, *limits.upper, 0.05])))
    layers: list[Layer] = [
        Band(x, limits.lower, limits.upper, "band", "where a stable line stays", stepped=True),
        *_event_lines(placed),
        Line(x, whole, "muted", "share over the whole log", dashed=True),
        Line(x, chart.values, "main"),
        Points(x, chart.values, "main", "dot", 3.5 if len(x) < 80 else 2.0, "share failed", hover),
    ]  # fmt: skip
    if len(at):
        layers.append(
            Points(x[at], chart.values[at], "signal", "diamond", 6.5, "signal",
                   [f"{hover[point]}; {phrases[point]}" for point in at])
        )  # fmt: skip
    rows = tuple(
        (spoken[i], str(int(source.tested[i])), str(int(source.failed[i])), _known(chart.values[i]),
         f"{percent(limits.lower[i])} to {percent(min(1.0, limits.upper[i]))}",
         phrases.get(i, ""))
        for i in range(len(x))
    )  # fmt: skip
    return Plot(
        "failures-in-time",
        f"Share of tested {items} that failed, in time, with limits",
        _time_sentence(spoken, phrases, limits.centre) + _told(placed),
        Axis(_period_word(source.labels), 0.5, len(x) + 0.5, period_ticks(source.labels)),
        Axis(f"share of tested {items} that failed", 0.0, top, percent_ticks(0.0, top)),
        tuple(layers),
        Table("Failures in time", ("period", "tested", "failed", "share", "limits", "signal"), rows,
              (False, True, True, True, False, False)),
    )  # fmt: skip


def _placed(labels: Sequence[str], events: Sequence[Event]) -> list[tuple[Event, float]]:
    """Return events that belong on the chart, with the left edge of the period of each."""
    weeks = np.array([np.datetime64(one, "D") for one in labels if ISO_DATE.fullmatch(one)])
    found = []
    for event in events:
        if event.kind == "service":
            continue
        place = event.run / RUNS_PER_POINT
        if len(weeks) == len(labels) and event.date is not None:
            place = float((weeks + 6 < event.date).sum())
        if place < len(labels):
            found.append((event, place))
    return found


def _event_lines(placed: Sequence[tuple[Event, float]]) -> list[Layer]:
    """Return an upright line for each event, a legend entry for each kind."""
    layers: list[Layer] = []
    named: set[str] = set()
    for event, place in placed:
        name, tone, dashes = EVENTS[event.kind]
        said = event.name if event.date is None else f"{event.name}: {date(event.date)}"
        layers.append(Mark(place + 0.5, tone, "" if name in named else name, dashes, said))
        named.add(name)
    return layers


def _told(placed: Sequence[tuple[Event, float]]) -> str:
    """Return what the upright lines stand for, "" without any."""
    said = [
        (f"{event.name} begins" if event.kind == "semester" else event.name)
        + ("" if event.date is None else f" ({date(event.date)})")
        for event, _ in placed
    ]
    more = [count(len(said) - MOST_TOLD, "more line")] if len(said) > MOST_TOLD else []
    return f" Upright lines: {'; '.join(said[:MOST_TOLD] + more)}." if said else ""


def modes(names: Names, tally: Tally) -> Plot:
    """Return failure modes as sorted bars with the share they make together."""
    found = [mode for mode in tally.modes if mode.count > 0][:MOST_ROWS]
    total = sum(mode.count for mode in tally.modes)
    shares = np.array([mode.count / total for mode in found])
    together = np.cumsum(shares)
    row = np.arange(len(found), dtype=float)
    families = list(dict.fromkeys(mode.family for mode in found))
    layers: list[Layer] = []
    for place, family in enumerate(families):
        mine = np.array([mode.family == family for mode in found])
        tone = FAMILY_TONES[place % len(FAMILY_TONES)]
        hover = [
            f"{names.mode(mode.mode)}: {mode.count}" for mode in found if mode.family == family
        ]
        layers.append(Bars(row[mine], shares[mine], tone, names.failures(family), hover))
    if len(found) > 1:
        layers += [
            Line(together, row, "ink"),
            Points(together, row, "ink", "ring", 4.0, "together with those above",
                   [f"{percent(share)} of all failures" for share in together]),
        ]  # fmt: skip
    table = Table(
        "Failure modes, most frequent first",
        ("mode", "family", "count", "share of failures", "together", "share of tested"),
        tuple(
            (names.mode(mode.mode), names.family(mode.family), str(mode.count), percent(share),
             percent(sum_share), share_words(mode.share))
            for mode, share, sum_share in zip(found, shares, together, strict=True)
        ),
        (False, False, True, True, True, False),
    )  # fmt: skip
    labels = [
        f"{names.mode(mode.mode)} · {names.family(mode.family)}: {mode.count}" for mode in found
    ]
    return Plot(
        "modes",
        "Failure modes, most frequent first, and the share they make together",
        _modes_sentence(names, tally),
        Axis("share of all failures", 0.0, 1.05, percent_ticks(0.0, 1.0)),
        row_axis(labels),
        tuple(layers),
        table,
    )


def spoken_label(label: str) -> str:
    """Return a chart label in words: an ISO date is the week that begins then."""
    if not ISO_DATE.fullmatch(label):
        return label
    return f"week of {date(np.datetime64(label, 'D'))}"


def worse_periods(source: FailureChart) -> str:
    """Return in which periods more failed than a stable line shows, "" when in none."""
    above = np.flatnonzero(source.chart.values > source.chart.limits.upper)
    if not len(above):
        return ""
    shown = [spoken_label(source.labels[place]) for place in above[:MOST_PERIODS]]
    if len(above) > MOST_PERIODS:
        shown.append(count(len(above) - MOST_PERIODS, "more period"))
    # "week of 2 March" wants its article, "runs 1-10" does not.
    said = [f"the {one}" if one.startswith("week") else one for one in shown]
    return f"More failed in {listed(said)} than a stable line shows: ask what was different then."


def _period_word(labels: Sequence[str]) -> str:
    weekly = any(spoken_label(label) != label for label in labels)
    return "week that begins on" if weekly else ""


def _known(value: float) -> str:
    return percent(float(value)) if np.isfinite(value) else "–"


def _time_sentence(spoken: Sequence[str], phrases: dict[int, str], centre: float) -> str:
    base = (
        f"Over the whole log {percent(centre)} failed. The pale band is where a stable line stays"
    )
    if not phrases:
        return f"{base}; no point stands out."
    said = [f"{spoken[point]} ({phrase})" for point, phrase in sorted(phrases.items())]
    shown = said[:4] + (
        [count(len(said) - 4, "more point", "more points")] if len(said) > 4 else []
    )
    return f"{base}. Standing out: {listed(shown)}."


def _modes_sentence(names: Names, tally: Tally) -> str:
    if not tally.modes:
        return ""
    first = tally.modes[0]
    share = first.count / max(1, sum(mode.count for mode in tally.modes))
    words = "all" if share == 1 else one_in(share)
    return f"The most frequent mode is {names.mode(first.mode)}: {words} of the failures."
