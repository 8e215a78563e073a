"""Factors of normal tolerance intervals, exact and by the approximations of older tables."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from weakstep.charts.checks import chance, real, whole_number
from weakstep.charts.normal import normal_cdf, normal_pdf

_LEAST_FREEDOM = 0.1  # degrees of freedom; with fewer no factor is a number
_REACH = 9.0  # standard errors of the mean on each side that the integral covers
_STEP = 0.125  # trapezoids over the mean: the integrand is smooth and dies off


def tolerance_factor(
    n_values: int,
    coverage: float = 0.95,
    confidence: float = 0.95,
    *,
    sides: Literal[1, 2] = 2,
    method: Literal["exact", "howe"] = "exact",
    freedom: float | None = None,
) -> float:
    r"""
    Compute the factor *k* of a normal tolerance interval :math:`\bar x \pm k s`.

    One side, exactly: :math:`k = t_{\gamma, f}(z_p \sqrt n) / \sqrt n`, a quantile of noncentral
    *t*. Two sides, exactly: the *k* that solves

    .. math::
        \int \varphi(x)\, P\!\left(\chi^2_f > f r(x)^2 / k^2\right) dx = \gamma, \quad
        \Phi(x / \sqrt n + r) - \Phi(x / \sqrt n - r) = p.

    Howe's approximation: :math:`k = z_{(1+p)/2} \sqrt{f (1 + 1/n) / \chi^2_{1-\gamma, f}}`, and for
    one side :math:`(z_p + \sqrt{z_p^2 - a b}) / a` with :math:`a = 1 - z_\gamma^2 / (2 f)` and
    :math:`b = z_p^2 - z_\gamma^2 / n` (Natrella).

    Parameters
    ----------
    n_values : int
        Behind the mean, at least 2.
    coverage, confidence : float
        :math:`p` and :math:`\gamma`, between 0 and 1.
    sides : {2, 1}
    method : {"exact", "howe"}
        "howe" for the factors of tables made by the approximations.
    freedom : float, optional
        Degrees of freedom of *s*, at least 0.1; default *n_values* - 1.

    Returns
    -------
    float

    Raises
    ------
    ValueError
        An argument is out of range, or the approximation does not exist for so few values.

    References
    ----------
    ISO 16269-6, Determination of statistical tolerance intervals. NIST/SEMATECH e-Handbook of
    Statistical Methods, 7.2.6.3. W. G. Howe (1969), Two-sided tolerance limits for normal
    populations, Journal of the American Statistical Association 64, 610-620.

    Examples
    --------
    >>> round(tolerance_factor(43, 0.90, 0.99, sides=1), 4)
    1.874
    >>> round(tolerance_factor(43, 0.90, 0.99, method="howe"), 3)
    2.217
    """
    whole_number("n_values", n_values, 2)
    chance("coverage", coverage)
    chance("confidence", confidence)
    behind = n_values - 1.0 if freedom is None else real("freedom", freedom, least=_LEAST_FREEDOM)
    if sides not in (1, 2) or method not in ("exact", "howe"):
        msg = f"sides must be 1 or 2 and method 'exact' or 'howe', got {sides!r} and {method!r}"
        raise ValueError(msg)
    find = {
        (1, "exact"): _one_sided, (2, "exact"): _two_sided,
        (1, "howe"): _natrella, (2, "howe"): _howe,
    }[sides, method]  # fmt: skip
    return find(n_values, coverage, confidence, behind)


def _one_sided(n_values: int, coverage: float, confidence: float, freedom: float) -> float:
    from scipy.special import ndtri
    from scipy.stats import nct

    root = math.sqrt(n_values)
    return float(nct.ppf(confidence, freedom, float(ndtri(coverage)) * root) / root)


def _natrella(n_values: int, coverage: float, confidence: float, freedom: float) -> float:
    from scipy.special import ndtri

    z_share, z_sure = float(ndtri(coverage)), float(ndtri(confidence))
    a = 1.0 - z_sure**2 / (2.0 * freedom)
    b = z_share**2 - z_sure**2 / n_values
    if a <= 0.0 or z_share**2 < a * b:
        msg = f"the approximation has no factor for {n_values} values; use method 'exact'"
        raise ValueError(msg)
    return (z_share + math.sqrt(z_share**2 - a * b)) / a


def _howe(n_values: int, coverage: float, confidence: float, freedom: float) -> float:
    from scipy.special import chdtri, ndtri

    z = float(ndtri((1.0 + coverage) / 2.0))
    return z * math.sqrt(freedom * (1.0 + 1.0 / n_values) / float(chdtri(freedom, confidence)))


def _two_sided(n_values: int, coverage: float, confidence: float, freedom: float) -> float:
    from scipy.optimize import brentq
    from scipy.special import chdtrc, ndtri

    off = np.arange(0.0, _REACH + _STEP, _STEP) / math.sqrt(n_values)
    weights = 2.0 * _STEP * normal_pdf(off * math.sqrt(n_values))
    weights[0] /= 2.0
    # Half width, around each mean, that holds the share: Newton's steps, all means at once.
    width = off + ndtri((1.0 + coverage) / 2.0)
    for _ in range(60):
        held = normal_cdf(off + width) - normal_cdf(off - width)
        step = (held - coverage) / (normal_pdf(off + width) + normal_pdf(off - width))
        width = np.maximum(width - step, width / 2.0)
        if np.abs(step).max() < 1e-13:
            break

    def excess(log_factor: float) -> float:
        factor = math.exp(log_factor)
        return float(weights @ chdtrc(freedom, freedom * (width / factor) ** 2)) - confidence

    guess = math.log(_howe(n_values, coverage, confidence, freedom))
    least, most = guess - 0.1, guess + 0.1
    while excess(least) > 0.0:
        least -= 0.5
    while excess(most) < 0.0:
        most += 0.5
    return math.exp(float(brentq(excess, least, most, xtol=1e-12)))
