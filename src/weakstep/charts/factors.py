"""
Control-chart constants for subgroups of any size, computed instead of tabulated.

Symbols are those of the trade: d2, d3, c4, A, A2, A3, A4, B3 to B6, D1 to D4, E2.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import numbers, whole_number
from weakstep.charts.normal import normal_cdf, normal_pdf
from weakstep.charts.quadrature import gauss_legendre

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

_TAIL = 9.0  # beyond 9 sigma the normal tail adds less than 1e-18
_NODES = 128  # Gauss-Legendre nodes over the range: enough for twelve decimals up to n = 1000
_STEP = 0.0625  # trapezoids over the lowest value: the integrand is smooth and dies off


@dataclass(frozen=True)
class Constants:
    r"""
    Factors that turn a mean range or a mean standard deviation into control limits.

    For *n* independent normal values with standard deviation :math:`\sigma`, range *R* and
    standard deviation *s*: :math:`E R = d_2 \sigma`, :math:`\mathrm{sd}\, R = d_3 \sigma`,
    :math:`E s = c_4 \sigma`. The other factors put limits at three standard deviations.

    Attributes
    ----------
    n : int
        Values in a subgroup.
    d2, d3, c4 : float
        No unit.

    References
    ----------
    ASTM Manual 7, Manual on Presentation of Data and Control Chart Analysis, part 3;
    ISO 7870-2, Control charts, Part 2: Shewhart control charts.
    """

    n: int
    d2: float
    d3: float
    c4: float

    @property
    def A(self) -> float:  # noqa: N802, a symbol of the trade, as are those below
        r"""Limits of a mean from a known sigma: :math:`3 / \sqrt n`."""
        return 3.0 / math.sqrt(self.n)

    @property
    def A2(self) -> float:  # noqa: N802
        r"""Limits of a mean from the mean range: :math:`3 / (d_2 \sqrt n)`."""
        return self.A / self.d2

    @property
    def A3(self) -> float:  # noqa: N802
        r"""Limits of a mean from the mean standard deviation: :math:`3 / (c_4 \sqrt n)`."""
        return self.A / self.c4

    @property
    def A4(self) -> float:  # noqa: N802
        """Limits of a median from the mean range: 3 `median_sd` / d2."""
        from weakstep.charts.median_laws import median_sd

        return 3.0 * median_sd(self.n) / self.d2

    @property
    def B3(self) -> float:  # noqa: N802
        """Lower limit of s, in mean s: B5 / c4."""
        return self.B5 / self.c4

    @property
    def B4(self) -> float:  # noqa: N802
        """Upper limit of s, in mean s: B6 / c4."""
        return self.B6 / self.c4

    @property
    def B5(self) -> float:  # noqa: N802
        r"""Lower limit of s, in sigmas: :math:`\max(0, c_4 - 3\sqrt{1 - c_4^2})`."""
        return max(0.0, self.c4 - 3.0 * math.sqrt(1.0 - self.c4**2))

    @property
    def B6(self) -> float:  # noqa: N802
        r"""Upper limit of s, in sigmas: :math:`c_4 + 3\sqrt{1 - c_4^2}`."""
        return self.c4 + 3.0 * math.sqrt(1.0 - self.c4**2)

    @property
    def D1(self) -> float:  # noqa: N802
        r"""Lower limit of a range, in sigmas: :math:`\max(0, d_2 - 3 d_3)`."""
        return max(0.0, self.d2 - 3.0 * self.d3)

    @property
    def D2(self) -> float:  # noqa: N802
        r"""Upper limit of a range, in sigmas: :math:`d_2 + 3 d_3`."""
        return self.d2 + 3.0 * self.d3

    @property
    def D3(self) -> float:  # noqa: N802
        """Lower limit of a range, in mean ranges: D1 / d2."""
        return self.D1 / self.d2

    @property
    def D4(self) -> float:  # noqa: N802
        """Upper limit of a range, in mean ranges: D2 / d2."""
        return self.D2 / self.d2

    @property
    def E2(self) -> float:  # noqa: N802
        """Limits of single values from the mean range: 3 / d2."""
        return 3.0 / self.d2


def range_cdf(width: ArrayLike, n: int) -> NDArray[np.float64]:
    r"""
    Chance that the range of *n* standard normal values is at most *width*.

    .. math:: P(R \le w) = n \int \varphi(x) [\Phi(x + w) - \Phi(x)]^{n-1} dx

    Parameters
    ----------
    width : array_like, shape (n_widths,)
        In standard deviations; 0 or below has no chance.
    n : int
        At least 2.

    Returns
    -------
    array, shape (n_widths,)

    Raises
    ------
    ValueError
        A width is not finite, or *n* is below 2.

    References
    ----------
    H. L. Harter (1960), Tables of range and studentized range, Annals of Mathematical
    Statistics 31, 1122-1147.

    Examples
    --------
    >>> range_cdf([0.0, 2.0], 2).round(6).tolist()
    [0.0, 0.842701]
    """
    whole_number("n", n, 2)
    places = numbers("width", width)
    if not np.isfinite(places).all():
        msg = "width must hold finite numbers"
        raise ValueError(msg)
    lowest = np.arange(-_TAIL, _TAIL + _STEP, _STEP)
    within = (
        normal_cdf(lowest[:, None] + np.maximum(places.ravel(), 0.0)) - normal_cdf(lowest)[:, None]
    )
    chance: NDArray[np.float64] = n * _STEP * normal_pdf(lowest) @ within ** (n - 1)
    return chance.reshape(places.shape)


def constants(n: int) -> Constants:
    r"""
    Compute the control-chart constants for subgroups of *n* values.

    .. math::
        c_4 = \sqrt{\frac{2}{n-1}} \frac{\Gamma(n/2)}{\Gamma((n-1)/2)}, \quad
        P(R \le w) = n \int \varphi(x) [\Phi(x + w) - \Phi(x)]^{n-1} dx

    and :math:`E R = \int (1 - P)\,dw`, :math:`E R^2 = \int 2 w (1 - P)\,dw`, by quadrature; the
    error is below 1e-9.

    Parameters
    ----------
    n : int
        Values in a subgroup, at least 2.

    Returns
    -------
    Constants

    Raises
    ------
    ValueError
        *n* is below 2: one value has no range.

    References
    ----------
    H. L. Harter (1960), Tables of range and studentized range, Annals of Mathematical
    Statistics 31, 1122-1147.

    Examples
    --------
    >>> five = constants(5)
    >>> round(five.d2, 5), round(five.A2, 5), round(five.D4, 5), round(five.c4, 5)
    (2.32593, 0.57682, 2.1145, 0.93999)
    """
    return _constants(whole_number("n, the values of a subgroup,", n, 2))


@lru_cache(maxsize=512)
def _constants(n: int) -> Constants:
    """Compute the constants once for each size."""
    c4 = math.sqrt(2.0 / (n - 1)) * math.exp(math.lgamma(n / 2) - math.lgamma((n - 1) / 2))
    nodes, weights = gauss_legendre(_NODES)
    widths, weights = _TAIL * (nodes + 1.0), _TAIL * weights
    beyond = 1.0 - range_cdf(widths, n)
    mean = float(weights @ beyond)
    mean_square = float(weights @ (2.0 * widths * beyond))
    return Constants(n=n, d2=mean, d3=math.sqrt(mean_square - mean**2), c4=c4)
