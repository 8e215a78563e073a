"""Which points of a chart signal, and what is said about them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from weakstep.report.words import listed

if TYPE_CHECKING:
    from weakstep.charts.model import Chart


def phrases_by_point(chart: Chart) -> dict[int, str]:
    """Return, for every point that signals, the plain phrases of its patterns."""
    found: dict[int, list[str]] = {}
    for signal in chart.signals:
        found.setdefault(signal.at, []).append(signal.phrase)
    return {point: listed(list(dict.fromkeys(said))) for point, said in found.items()}
