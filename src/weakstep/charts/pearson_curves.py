r"""
Pearson's curves: the distribution of given mean, spread, skewness and kurtosis.

In standard deviations from the mean, with :math:`\beta_2` the kurtosis (3 for a normal one) and
:math:`\gamma_1` the skewness, the density *p* solves

.. math::
    \frac{p'}{p} = -\frac{D x + b_1}{b_0 + b_1 x + b_2 x^2}, \quad
    b_0 = 4 \beta_2 - 3 \gamma_1^2, \; b_1 = \gamma_1 (\beta_2 + 3), \;
    b_2 = 2 \beta_2 - 3 \gamma_1^2 - 6, \; D = 10 \beta_2 - 12 \gamma_1^2 - 18.

The roots of the denominator decide the type: a beta distribution between two of them (I, II), a
gamma (III) or normal one where :math:`b_2 = 0`, beyond the larger of two on one side a beta of the
second kind (VI), with a double root an inverse gamma (V), and without a root type IV, among them
Student's *t* (VII).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import chance, real
from weakstep.charts.quadrature import gauss_legendre

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_MOST_MOMENT = 1e4  # skewness or kurtosis
_FLAT = 1e-9  # share of b0 that b2 is no more than on the line of the gamma distributions
_DOUBLE = 1e-12  # share of b1 squared that is left of the discriminant at a double root
_TWO_POINTS = 1e-6  # share by which a kurtosis must exceed that of two values only
_SYMMETRIC = 1e-7  # a skewness that no quantile shows
_CENTRE = np.arange(-30.0, 31.0)  # ends of panels around the peak of type IV, in its widths
_PANELS = 32  # and so many equal ones over the whole range
_NODES = 16  # in each panel


@dataclass(frozen=True)
class PearsonCurve:
    """
    A distribution of Pearson's system.

    Attributes
    ----------
    mean, sd : float
        In one unit.
    skewness, kurtosis : float
        No unit; the kurtosis is the excess over that of a normal distribution.
    """

    mean: float
    sd: float
    skewness: float
    kurtosis: float

    @property
    def kind(self) -> str:
        """Name of the type: "normal", "I" (with II), "III", "IV" (with VII), "V" or "VI"."""
        b0, b1, b2, _ = self._coefficients()
        if abs(b2) <= _FLAT * b0:
            return "normal" if abs(self.skewness) < _SYMMETRIC else "III"
        if b2 < 0.0:
            return "I"
        left = b1 * b1 - 4.0 * b0 * b2
        if abs(left) <= _DOUBLE * b1 * b1:
            return "V"
        return "VI" if left > 0.0 else "IV"

    def _coefficients(self) -> tuple[float, float, float, float]:
        """Coefficients b0, b1, b2 and D for the curve turned so that its long tail is upwards."""
        square, beta = self.skewness**2, self.kurtosis + 3.0
        return (
            4.0 * beta - 3.0 * square,
            abs(self.skewness) * (beta + 3.0),
            2.0 * beta - 3.0 * square - 6.0,
            10.0 * beta - 12.0 * square - 18.0,
        )

    def quantile(self, level: float) -> float:
        """
        Value that is not passed with a chance of *level*, in the unit.

        Raises
        ------
        ValueError
            *level* does not lie between 0 and 1.
        """
        below = chance("level", level)
        if self.skewness < 0.0:
            return self.mean - self.sd * self._standard(1.0 - below, below)
        return self.mean + self.sd * self._standard(below, 1.0 - below)

    def _standard(self, below: float, above: float) -> float:
        """Quantile in standard deviations of the curve with its long tail upwards."""
        from scipy.special import betaincinv, gammainccinv, gammaincinv, ndtri

        kind = self.kind
        b0, b1, b2, slope = self._coefficients()
        if kind == "normal":
            return float(ndtri(below))
        if kind == "III":
            shape = 4.0 / self.skewness**2
            return float((gammaincinv(shape, below) - shape) / math.sqrt(shape))
        if kind == "IV":
            return _between_no_roots(b0, b1, b2, slope).quantile(below)
        if kind == "V":
            root = -b1 / (2.0 * b2)
            scale = -(slope * root + b1) / b2
            return root + scale / float(gammainccinv(slope / b2 - 1.0, below))
        half = math.sqrt(b1 * b1 - 4.0 * b0 * b2)
        # The root that adds two numbers of one sign first, so that no digits are lost.
        far = (-b1 - half) / (2.0 * b2)
        first, second = sorted((far, b0 / (b2 * far)))
        apart = second - first
        # The density goes as (x - first)^a (second - x)^b, or beyond the second as (x - second)^b.
        a, b = (slope * first + b1) / (b2 * apart), -(slope * second + b1) / (b2 * apart)
        if kind == "I":
            return first + apart * float(betaincinv(a + 1.0, b + 1.0, below))
        share = float(betaincinv(slope / b2 - 1.0, b + 1.0, above))
        return second + apart * (1.0 - share) / share


@dataclass(frozen=True, eq=False)
class _Angle:
    r"""
    Type IV as an angle: with :math:`x = c + a \tan \theta`, *c* and *a* from the complex roots.

    The density of :math:`\theta` is in proportion to :math:`\cos^p \theta \, e^{-\nu \theta}`.
    """

    middle: float
    reach: float
    power: float
    lean: float

    @property
    def peak(self) -> float:
        return -math.atan2(self.lean, self.power)

    def mass(self, low: Floats, high: Floats) -> Floats:
        """Integrals of the density over panels, that at the peak taken as 1."""
        nodes, weights = gauss_legendre(_NODES)
        half = (high - low)[:, None] / 2.0
        places = (high + low)[:, None] / 2.0 + half * nodes
        cosine, top = np.cos(places), math.cos(self.peak)
        logs = self.power * np.log(cosine / top) - self.lean * (places - self.peak)
        return np.asarray((np.exp(logs) * weights * half).sum(axis=1), dtype=float)

    @cached_property
    def panels(self) -> tuple[Floats, Floats]:
        """Ends of panels, closer around the peak, and the mass up to each."""
        end, width = math.pi / 2.0, math.cos(self.peak) / math.sqrt(self.power)
        spread = np.linspace(-end, end, _PANELS + 1)
        ends = np.unique(np.append(spread, np.clip(self.peak + width * _CENTRE, -end, end)))
        return ends, np.append(0.0, np.cumsum(self.mass(ends[:-1], ends[1:])))

    def quantile(self, below: float) -> float:
        from scipy.optimize import brentq

        ends, reached = self.panels
        wanted = below * reached[-1]
        panel = int(np.clip(np.searchsorted(reached, wanted) - 1, 0, len(ends) - 2))
        low = ends[panel : panel + 1]

        def excess(place: float) -> float:
            return float(reached[panel] + self.mass(low, np.array([place]))[0] - wanted)

        place = float(brentq(excess, ends[panel], ends[panel + 1], xtol=1e-15))
        return self.middle + self.reach * math.tan(place)


@lru_cache(maxsize=8)
def _between_no_roots(b0: float, b1: float, b2: float, slope: float) -> _Angle:
    """Type IV by the coefficients of Pearson's equation."""
    middle, reach = -b1 / (2.0 * b2), math.sqrt(4.0 * b0 * b2 - b1 * b1) / (2.0 * b2)
    return _Angle(middle, reach, slope / b2 - 2.0, (slope * middle + b1) / (b2 * reach))


def pearson_curve(mean: float, sd: float, skewness: float, kurtosis: float) -> PearsonCurve:
    r"""
    Make the curve of Pearson's system that has these four moments.

    Parameters
    ----------
    mean, sd : float
        In one unit; *sd* above 0.
    skewness, kurtosis : float
        :math:`\gamma_1` and the excess kurtosis, no unit. No distribution has a kurtosis of
        :math:`\gamma_1^2 - 2` or less.

    Returns
    -------
    PearsonCurve
        With `quantile` and `kind`.

    Raises
    ------
    ValueError
        An argument is out of range.

    References
    ----------
    K. Pearson (1895), Contributions to the mathematical theory of evolution II: skew variation in
    homogeneous material, Philosophical Transactions of the Royal Society A 186, 343-414. N. L.
    Johnson, S. Kotz and N. Balakrishnan (1994), Continuous Univariate Distributions 1, Wiley,
    chapter 12.

    Examples
    --------
    >>> flat = pearson_curve(0.0, 1.0, 0.0, -1.2)
    >>> flat.kind, round(flat.quantile(0.75), 4), round(3**0.5 / 2, 4)
    ('I', 0.866, 0.866)
    """
    real("mean", mean)
    real("sd", sd, above=0.0)
    real("skewness", skewness, least=-_MOST_MOMENT, most=_MOST_MOMENT)
    least = skewness**2 - 2.0
    if not real("kurtosis", kurtosis, most=_MOST_MOMENT) > least + _TWO_POINTS * (1.0 + abs(least)):
        msg = f"kurtosis must be above skewness squared less 2 ({least:g}), got {kurtosis}"
        raise ValueError(msg)
    return PearsonCurve(float(mean), float(sd), float(skewness), float(kurtosis))
