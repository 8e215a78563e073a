"""Sigma from the mean of a few ranges: its scale and its degrees of freedom."""

from __future__ import annotations

import math
from functools import lru_cache

from weakstep.charts.checks import whole_number
from weakstep.charts.factors import constants


def pooled_range(n: int, n_subgroups: int = 1) -> tuple[float, float]:
    r"""
    Scale and degrees of freedom of the mean range of a few subgroups.

    The mean of *m* ranges of *n* values is nearly :math:`d_2^* \sigma \chi_\nu / \sqrt\nu`. Both
    numbers match its first two moments: :math:`d_2^* = \sqrt{d_2^2 + d_3^2 / m}`, and
    :math:`\nu` solves :math:`c_4(\nu + 1) = d_2 / d_2^*`.

    Parameters
    ----------
    n : int
        Values in a subgroup, at least 2.
    n_subgroups : int
        Ranges averaged, at least 1.

    Returns
    -------
    d2_star, freedom : float
        The mean range over *d2_star* has the mean square :math:`\sigma^2` and *freedom* degrees of
        freedom.

    Raises
    ------
    ValueError
        *n* is below 2 or *n_subgroups* below 1.

    References
    ----------
    P. B. Patnaik (1950), The use of mean range as an estimator of variance in statistical tests,
    Biometrika 37, 78-87. A. J. Duncan, Quality Control and Industrial Statistics, table D3.

    Examples
    --------
    >>> [round(number, 3) for number in pooled_range(5, 2)]
    [2.405, 7.471]
    """
    return _pooled_range(whole_number("n", n, 2), whole_number("n_subgroups", n_subgroups, 1))


@lru_cache(maxsize=512)
def _pooled_range(n: int, n_subgroups: int) -> tuple[float, float]:
    """Match the two moments once for each pair of sizes."""
    from scipy.optimize import brentq
    from scipy.special import gammaln

    point = constants(n)
    scale = math.sqrt(point.d2**2 + point.d3**2 / n_subgroups)

    def excess(log_freedom: float) -> float:
        freedom = math.exp(log_freedom)
        mean = 0.5 * math.log(2.0 / freedom) + gammaln((freedom + 1.0) / 2.0)
        return float(mean - gammaln(freedom / 2.0) - math.log(point.d2 / scale))

    return scale, math.exp(float(brentq(excess, math.log(0.3), math.log(1e9), xtol=1e-13)))
