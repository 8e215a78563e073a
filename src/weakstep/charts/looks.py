"""What a chart looks for: its patterns, and where the lines they refer to stand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from weakstep.charts.checks import real
from weakstep.charts.false_alarms import false_alarm
from weakstep.charts.patterns import DEFAULT_PATTERNS, find_signals, patterns_of
from weakstep.charts.zone_chain import USUAL_WIDTH, lines_for

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from weakstep.charts.model import Signal
    from weakstep.charts.pattern_shapes import Pattern

_WIDEST = 50.0


@dataclass(frozen=True)
class Look:
    """
    Patterns, and the width of the limits.

    Attributes
    ----------
    patterns : tuple of pattern
    width : float
        Sigmas from the centre line to the limits; the lines of the patterns move with it, as in
        `weakstep.charts.pattern_limits.pattern_width`.
    """

    patterns: tuple[Pattern, ...]
    width: float

    @classmethod
    def of(
        cls, patterns: Sequence[str | Pattern] = DEFAULT_PATTERNS, width: float = USUAL_WIDTH
    ) -> Look:
        """Build it; raise ValueError where a pattern is unknown or the width is none."""
        return cls(tuple(patterns_of(patterns)), real("width", width, least=0.1, most=_WIDEST))

    @property
    def lines(self) -> tuple[float, ...]:
        """Lines between the zones of the chart, in sigmas."""
        return tuple(line * self.width / USUAL_WIDTH for line in lines_for(self.patterns))

    def signals(self, z: NDArray[np.float64]) -> tuple[Signal, ...]:
        """Signals of points *z* sigmas off the centre line; NaN is passed over."""
        return find_signals(z * (USUAL_WIDTH / self.width), self.patterns)

    def false_alarm(self, n_points: int) -> float:
        """Chance of a signal among so many independent normal values."""
        return false_alarm(n_points, self.patterns, width=self.width)
