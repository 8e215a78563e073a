"""What a control chart is, as numbers; drawing it is the report's work."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np


@dataclass(frozen=True, eq=False)
class Limits:
    """
    Centre line and control limits of a chart.

    Attributes
    ----------
    centre : float
    lower, upper : array, shape (n_points,)
        In the unit of the values; equal entries when the limits are constant.
    sigma : float
        The standard deviation the limits were built from (for a p chart: of a point of mean size).
    sigma_from : str
        How sigma was estimated, as a phrase ("mean moving range / 1.128").
    degrees_of_freedom : float
        Of sigma; infinity when sigma was given.
    """

    centre: float
    lower: np.ndarray
    upper: np.ndarray
    sigma: float
    sigma_from: str
    degrees_of_freedom: float


@dataclass(frozen=True)
class Signal:
    """
    A pattern on a chart: the points that form it and its plain phrase.

    Attributes
    ----------
    pattern, phrase : str
        A word for programs and the plain phrase for people.
    points : tuple of int
        Indices of the points, in order; a pattern that stays complete keeps its further points.
    complete_at : int or None
        Index of the point at which the pattern first is complete; None for the last of `points`.
    """

    pattern: str
    phrase: str
    points: tuple[int, ...]
    complete_at: int | None = None

    @property
    def at(self) -> int:
        """Index of the point at which the pattern first is complete."""
        return self.points[-1] if self.complete_at is None else self.complete_at


@dataclass(frozen=True, eq=False)
class Chart:
    """
    A computed chart: values, limits, signals.

    Attributes
    ----------
    kind : str
        Field-standard name: "individuals", "moving range", "p".
    values : array, shape (n_points,)
        NaN for a missing point.
    limits : Limits
    signals : tuple of Signal
    false_alarm : float
        Chance that a stable log of this length shows at least one signal on this chart.
    notes : tuple of str
        What was allowed for or could not be done, a sentence each.
    """

    kind: str
    values: np.ndarray
    limits: Limits
    signals: tuple[Signal, ...]
    false_alarm: float
    notes: tuple[str, ...] = ()
