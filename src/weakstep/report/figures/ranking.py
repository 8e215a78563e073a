"""The rankings of parameters and of steps: a dot with its interval per row."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from weakstep.report.names import Names, odds_words
from weakstep.report.plot import Axis, Layer, Plot, Shape, Table, Tone, Whiskers, row_axis
from weakstep.report.ticks import percent_ticks
from weakstep.report.words import count, level, listed, p_value, share_words

if TYPE_CHECKING:
    from weakstep.failures.model import Factor, StepRank
    from weakstep.interval import Interval

EVIDENCE: dict[str, tuple[str, Tone, Shape]] = {
    "strong": ("strong evidence", "signal", "diamond"),
    "calendar": ("tied to the calendar", "fourth", "square"),
    "some": ("some evidence", "main", "triangle"),
    "none": ("no evidence", "muted", "ring"),
}
MOST_ROWS = 30


def ranking(names: Names, family: str, factors: Sequence[Factor]) -> Plot:
    """Return the ranking of all parameters of one family: a dot with its interval per row."""
    shown = list(factors)[:MOST_ROWS]
    table = Table(
        f"Parameters ranked by their link with {names.failures(family)}",
        ("parameter", "step", "preventable share", "window", "effect", "p", "evidence",
         "cannot be told apart from"),
        tuple(_factor_row(names, factor) for factor in factors),
        (False, False, False, False, False, True),
        "p is family-wise: over all parameters, shapes and families tried in this report. Odds are "
        "of a straight line beside who ran it: where failures rise on both sides they say little.",
    )  # fmt: skip
    levels = [(names.label(item.column), item.preventable_share, item.evidence) for item in shown]
    hover = [f"{label}: {share_words(share)}" for label, share, _ in levels]
    see = (
        f"Each row is a parameter. The mark is the estimated share of {names.failures(family)} "
        f"that might not have happened had it stayed in its window; the line is the "
        f"{level(shown[0].preventable_share)}."
    )
    left_out = len(factors) - len(shown)
    if left_out:
        see += f" {count(left_out, 'parameter')} lower in the order stand in the table only."
    return Plot(
        f"ranking-{family}",
        f"Share of {names.failures(family)} each parameter could prevent, with intervals",
        see,
        _share_axis([share for _, share, _ in levels], "share of these failures it could prevent"),
        row_axis([label for label, _, _ in levels]),
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
    hover = [f"{label}: {share_words(share)}" for label, share, _ in levels]
    table = Table(
        "Steps ranked by what holding all their parameters in their windows could prevent",
        ("step", "failures", "preventable share", "evidence"),
        tuple(
            (names.step(rank.step), names.family(rank.family), share_words(rank.preventable_share),
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
        row_axis([label for label, _, _ in levels]),
        _whiskers(levels, hover),
        table,
    )


def _factor_row(names: Names, factor: Factor) -> tuple[str, ...]:
    effect = factor.shape
    odds = odds_words(factor.odds_ratio, factor.per)
    return (
        names.label(factor.column),
        names.step(factor.step),
        share_words(factor.preventable_share),
        names.window(factor.column, factor.window) or "–",
        f"{effect}; {odds}" if odds else effect,
        p_value(factor.p),
        EVIDENCE[factor.evidence][0],
        listed([names.label(column) for column in factor.alike], "or") or "–",
    )


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
