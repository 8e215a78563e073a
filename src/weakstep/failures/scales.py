"""The scale on which a parameter's values enter the shapes: as they are, or their logarithms."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

CLIPPED = (0.02, 0.98)
SKEWED = 0.5


@dataclass(frozen=True)
class Scale:
    """
    How a parameter's values enter the shapes: u = log v or v, clipped at both ends.

    Attributes
    ----------
    log : bool
        Whether the logarithm is taken.
    lower, upper : float
        Ends of u beyond which values count as the end itself.
    """

    log: bool
    lower: float
    upper: float

    def apply(self, values: np.ndarray) -> np.ndarray:
        """Return u for *values* in the parameter's unit; NaN stays NaN."""
        u = np.log(values) if self.log else values
        return np.asarray(np.clip(u, self.lower, self.upper))

    def undo(self, u: float) -> float:
        """Return the value, in the parameter's unit, that has this u."""
        return float(np.exp(u)) if self.log else float(u)


def quantiles(values: np.ndarray, levels: tuple[float, ...]) -> np.ndarray:
    """Return quantiles by linear interpolation between ordered *values*, as numpy's default."""
    ordered = np.sort(values)
    places = np.array(levels) * (len(ordered) - 1)
    return np.asarray(np.interp(places, np.arange(len(ordered)), ordered))


def skewness(values: np.ndarray) -> float:
    """Return the third standardised moment of *values* (0 when they do not vary)."""
    spread = float(values.std())
    if spread <= 0.0:
        return 0.0
    return float((((values - values.mean()) / spread) ** 3).mean())


def choose_scale(values: np.ndarray, *, log_declared: bool) -> Scale:
    """
    Choose between v and log v, and where to clip.

    Parameters
    ----------
    values : array, shape (n_logged,)
        In the parameter's unit, no NaN.
    log_declared : bool
        The description says that factors matter, not differences.

    Returns
    -------
    Scale
        Logarithmic when every value is positive and either it is declared or the values are skewed
        to the right (skewness above 0.5) and their logarithms less so. Clipped at the 2 % and
        98 % quantiles so that one odd run cannot carry a shape.
    """
    positive = bool((values > 0).all())
    log = positive and log_declared
    if positive and not log:
        skew = skewness(values)
        log = skew > SKEWED and abs(skewness(np.log(values))) < skew
    u = np.log(values) if log else values
    lower, upper = quantiles(u, CLIPPED)
    return Scale(log, float(lower), float(upper))
