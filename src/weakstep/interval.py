"""An estimate with its interval: the only form in which weakstep states a number it inferred."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Interval:
    """
    An estimate, the two ends of its interval, and the interval's level.

    Attributes
    ----------
    estimate, lower, upper : float
        In the unit of whatever is estimated; `lower <= upper`.
    level : float
        Coverage the interval is built for, between 0 and 1 (0.95 is 95 %).

    Examples
    --------
    >>> Interval(0.2, 0.1, 0.3, 0.95).to_dict()
    {'estimate': 0.2, 'lower': 0.1, 'upper': 0.3, 'level': 0.95}
    """

    estimate: float
    lower: float
    upper: float
    level: float

    def to_dict(self) -> dict[str, float]:
        """Return the interval as findings.json writes it (INTERVAL in the README)."""
        return {
            "estimate": self.estimate,
            "lower": self.lower,
            "upper": self.upper,
            "level": self.level,
        }
