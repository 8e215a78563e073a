"""The figures of the whole log: ranking, steps, failures in time, failure modes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from weakstep.report.names import Names, odds_words
from weakstep.report.plot import (
    Axis,
    Band,
    Bars,
    Layer,
    Line,
    Plot,
    Points,
    Shape,
    Table,
    Tone,
    Whiskers,
)
from weakstep.report.ticks import percent_ticks, thinned
from weakstep.report.words import (
    count,
    date,
    level,
    listed,
    one_in,
    p_value,
    percent,
    percent_range,
    short_date,
)

if TYPE_CHECKING:
    from weakstep.failures.model import Factor, StepRank, Tally
    from weakstep.interval import Interval
    from weakstep.reviewing import FailureChart

EVIDENCE: dict[str, tuple[str, Tone, Shape]] = {
    "strong": ("strong evidence", "signal", "diamond"),
    "calendar": ("tied to the calendar", "fourth", "square"),
    "some": ("some evidence", "main", "triangle"),
    "none": ("no evidence", "muted", "ring"),
}
FAMILY_TONES: tuple[Tone, ...] = ("main", "fourth", "fifth", "good", "muted")
MOST_ROWS = 30


def ranking(names: Names, family: str, factors: Sequence[Factor]) -> Plot:
    """Return the ranking of all parameters of one family: a dot with its interval per row."""
    shown = list(factors)[:MOST_ROWS]
    table = Table(
        f"Parameters ranked by their link with {names.family(family)} failures",
        ("parameter", "step", "preventable share", "window", "effect", "p", "evidence",
         "cannot be told apart from"),
        tuple(_factor_row(names, factor) for factor in factors),
        (False, False, False, False, False, True),
        "p is family-wise: over all parameters, shapes and families tried in this report.",
    )  # fmt: skip
    levels = [(names.label(item.column), item.preventable_share, item.evidence) for item in shown]
    hover = [f"{label}: {_share_words(share)}" for label, share, _ in levels]
    see = (
        f"Each row is a parameter. The mark is the estimated share of {names.family(family)} "
        f"failures that might not have happened had it stayed in its window; the line is the "
        f"{level(shown[0].preventable_share)}."
    )
    left_out = len(factors) - len(shown)
    if left_out:
        see += f" {count(left_out, 'parameter')} lower in the order stand in the table only."
    return Plot(
        f"ranking-{family}",
        f"Share of {names.family(family)} failures each parameter could prevent, with intervals",
        see,
        _share_axis([share for _, share, _ in levels], "share of these failures it could prevent"),
        _row_axis([label for label, _, _ in levels]),
        _whiskers(levels, hover),
        table,
    )


def steps(names: Names, ranks: Sequence[StepRank]) -> Plot:
    """Return the ranking of steps over all families: a dot with its interval per row."""
    shown = list(ranks)[:MOST_ROWS]
    levels = [
        (
            f"{names.step(rank.step)} · {names.family(rank.family)}",
            rank.preventable_share,
            rank.evidence,
        )
        for rank in shown
    ]
    hover = [f"{label}: {_share_words(share)}" for label, share, _ in levels]
    table = Table(
        "Steps ranked by what holding all their parameters in their windows could prevent",
        ("step", "failures", "preventable share", "evidence"),
        tuple(
            (names.step(rank.step), names.family(rank.family), _share_words(rank.preventable_share),
             EVIDENCE[rank.evidence][0])
            for rank in ranks
        ),
    )  # fmt: skip
    return Plot(
        "steps",
        "Share of failures each step could prevent, with intervals",
        "Each row is a step with all its parameters held in their windows at once. The shares of "
        "several steps overlap, so they do not add up.",
        _share_axis([share for _, share, _ in levels], "share of these failures it could prevent"),
        _row_axis([label for label, _, _ in levels]),
        _whiskers(levels, hover),
        table,
    )


def failures_in_time(item: str, items: str, source: FailureChart) -> Plot:
    """Return the chart of the failed share by week (or by group of runs), with its limits."""
    chart = source.chart
    x = np.arange(1, len(source.labels) + 1, dtype=float)
    spoken = [spoken_label(label) for label in source.labels]
    hover = [
        f"{label}: {failed} of {count(int(tested), item, items)} failed"
        for label, failed, tested in zip(spoken, source.failed, source.tested, strict=True)
    ]
    phrases = _phrases_by_point(source)
    at = np.array(sorted(phrases), dtype=int)
    top = float(np.nanmax([*chart.values, *chart.limits.upper, 0.05]))
    layers: list[Layer] = [
        Band(x, chart.limits.lower, chart.limits.upper, "band", "where a stable line stays", stepped=True),
        Line(x, np.full(len(x), chart.limits.centre), "muted", "share over the whole log", dashed=True),
        Line(x, chart.values, "main"),
        Points(x, chart.values, "main", "dot", 3.5, "share failed", hover),
    ]  # fmt: skip
    if len(at):
        layers.append(
            Points(x[at], chart.values[at], "signal", "diamond", 6.5, "signal",
                   [f"{hover[point]}; {phrases[point]}" for point in at])
        )  # fmt: skip
    rows = tuple(
        (spoken[i], str(int(source.tested[i])), str(int(source.failed[i])), _known(chart.values[i]),
         f"{percent(chart.limits.lower[i])} to {percent(min(1.0, chart.limits.upper[i]))}",
         phrases.get(i, ""))
        for i in range(len(x))
    )  # fmt: skip
    return Plot(
        "failures-in-time",
        "Share of tested chips that failed, in time, with limits".replace("chips", items),
        _time_sentence(spoken, phrases, chart.limits.centre),
        Axis(_period_word(source.labels), 0.5, len(x) + 0.5, thinned(source.labels, _tick_label)),
        Axis(f"share of tested {items} that failed", 0.0, min(1.0, top * 1.08), percent_ticks(0.0, min(1.0, top))),
        tuple(layers),
        Table("Failures in time", ("period", "tested", "failed", "share", "limits", "signal"), rows,
              (False, True, True, True, False, False)),
    )  # fmt: skip


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
        layers.append(Bars(row[mine], shares[mine], tone, names.family(family), hover))
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
             percent(sum_share), f"{percent(mode.share.estimate)} ({percent_range(mode.share)})")
            for mode, share, sum_share in zip(found, shares, together, strict=True)
        ),
        (False, False, True, True, True, False),
    )  # fmt: skip
    labels = [f"{names.mode(mode.mode)} · {names.family(mode.family)}" for mode in found]
    return Plot(
        "modes",
        "Failure modes, most frequent first, and the share they make together",
        _modes_sentence(names, tally),
        Axis("share of all failures", 0.0, 1.05, percent_ticks(0.0, 1.0)),
        _row_axis(labels),
        tuple(layers),
        table,
    )


def _factor_row(names: Names, factor: Factor) -> tuple[str, ...]:
    effect = factor.shape
    odds = odds_words(factor.odds_ratio, factor.per)
    return (
        names.label(factor.column),
        names.step(factor.step),
        _share_words(factor.preventable_share),
        names.window(factor.column, factor.window) or "–",
        f"{effect}; {odds}" if odds else effect,
        p_value(factor.p),
        EVIDENCE[factor.evidence][0],
        listed([names.label(column) for column in factor.alike], "or") or "–",
    )


def _share_words(share: Interval) -> str:
    return f"{percent(share.estimate)} ({percent_range(share)})"


def _whiskers(
    levels: Sequence[tuple[str, Interval, str]], hover: Sequence[str]
) -> tuple[Layer, ...]:
    layers: list[Layer] = []
    for evidence, (name, tone, shape) in EVIDENCE.items():
        rows = [row for row, (_, _, found) in enumerate(levels) if found == evidence]
        if not rows:
            continue
        shares = [levels[row][1] for row in rows]
        layers.append(
            Whiskers(
                np.array(rows, dtype=float),
                np.array([share.estimate for share in shares]),
                np.array([share.lower for share in shares]),
                np.array([share.upper for share in shares]),
                tone, shape, name, [hover[row] for row in rows],
            )
        )  # fmt: skip
    return tuple(layers)


def _share_axis(shares: Sequence[Interval], label: str) -> Axis:
    ends = [0.1, *(end for share in shares for end in (share.upper, share.estimate))]
    starts = [0.0, *(share.lower for share in shares)]
    low, high = float(np.nanmin(starts)), min(1.0, float(np.nanmax(ends)))
    margin = 0.03 * (high - low)
    return Axis(label, low - margin, high + margin, percent_ticks(low, high))


def _row_axis(labels: Sequence[str]) -> Axis:
    ticks = [(float(row), label) for row, label in enumerate(labels)]
    return Axis("", -0.5, len(labels) - 0.5, ticks, rows=True)


def spoken_label(label: str) -> str:
    """Return a chart label in words: an ISO date is the week that begins then."""
    try:
        return f"week of {date(np.datetime64(label, 'D'))}"
    except ValueError:
        return label


def _period_word(labels: Sequence[str]) -> str:
    weekly = any(spoken_label(label) != label for label in labels)
    return "week that begins on" if weekly else ""


def _tick_label(label: str) -> str:
    try:
        return short_date(np.datetime64(label, "D"))
    except ValueError:
        return label


def _phrases_by_point(source: FailureChart) -> dict[int, str]:
    found: dict[int, list[str]] = {}
    for signal in source.chart.signals:
        found.setdefault(signal.at, []).append(signal.phrase)
    return {point: listed(list(dict.fromkeys(said))) for point, said in found.items()}


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
