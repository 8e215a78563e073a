r"""
The distribution of Anderson and Darling's statistic, with parameters known or estimated.

For many values :math:`A^2` is a sum :math:`\sum \lambda_j \chi^2_1`. With mean and standard
deviation known :math:`\lambda_j = 1 / (j (j + 1))`, and the eigenfunctions are
:math:`c_j \sqrt{s (1 - s)}\, P_j'(2 s - 1)` with Legendre's polynomials and
:math:`c_j = 2 \sqrt{(2 j + 1) / (j (j + 1))}`. Estimating a parameter takes one term
:math:`b b'` off that diagonal matrix, with :math:`b_j = \tfrac12 c_j E[x P_j(2 \Phi(x) - 1)]` for
the mean and :math:`b_j = \tfrac12 c_j E[(x^2 - 1) P_j(2 \Phi(x) - 1)] / \sqrt 2` for the standard
deviation; the first has odd *j* only and the second even *j* only (J. Durbin, M. Knott and C. C.
Taylor 1975, Components of Cramer-von Mises statistics II, Journal of the Royal Statistical Society
B 37, 216-237). Tail chances follow by inversion along a path through the saddle point (S. O. Rice
1980, Distribution of quadratic forms in normal random variables: evaluation by numerical
integration, SIAM Journal on Scientific and Statistical Computing 1, 438-448).
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import real
from weakstep.charts.normal import normal_cdf, normal_pdf

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_TERMS = 120  # of the sum; what is left of it counts with its mean
_REACH, _STEP = 8.5, 0.02  # trapezoids over x: smooth, and dead at the ends
_NODES = 800  # trapezoids along the path of the inversion
_FURTHEST = 20.0  # end of the path, in widths of the saddle
_LEAST = 0.02  # a statistic below comes with a chance of less than 1e-12
_MOST = 600.0  # the chance of a larger statistic is below 1e-250
_TURN = 0.4  # how fast the path bends to the right


@lru_cache(maxsize=4)
def _eigenvalues(*, mean_known: bool, sd_known: bool) -> Floats:
    """Weights of the chi-squared terms, *_TERMS* of them."""
    j = np.arange(1, _TERMS + 1)
    plain = 1.0 / (j * (j + 1.0))
    x = np.arange(-_REACH, _REACH + _STEP / 2.0, _STEP)
    polynomials = np.polynomial.legendre.legvander(2.0 * normal_cdf(x) - 1.0, _TERMS)[:, 1:]
    scale = np.sqrt((2.0 * j + 1.0) * plain)  # c / 2
    expected = (_STEP * normal_pdf(x)) @ (polynomials[None] * _scores(x)[:, :, None])
    of_mean, of_sd = scale * expected
    matrix = np.diag(plain)
    if not mean_known:
        matrix = matrix - np.outer(of_mean, of_mean)
    if not sd_known:
        matrix = matrix - np.outer(of_sd, of_sd)
    return np.asarray(np.linalg.eigvalsh(matrix), dtype=float)


def _scores(x: Floats) -> Floats:
    """Score of the mean and of the standard deviation, each of variance 1; shape (2, n)."""
    return np.array([x, (x * x - 1.0) / np.sqrt(2.0)])


def anderson_darling_p(statistic: float, *, mean_known: bool, sd_known: bool) -> float:
    r"""
    Chance of a statistic as large as this from many normal values.

    With :math:`K(t) = -\tfrac12 \sum \ln(1 - 2 \lambda_j t)`,
    :math:`P(A^2 > a) = \frac{1}{2 \pi i} \int e^{K(t) - t a} dt / t` along a path that crosses
    the real axis at the saddle point, where the integrand is least, and bends to the right.

    Parameters
    ----------
    statistic : float
        :math:`A^2`.
    mean_known, sd_known : bool
        False where the parameter was estimated from the values.

    Returns
    -------
    float
        To five digits and more.

    Raises
    ------
    ValueError
        *statistic* is not finite.

    References
    ----------
    R. B. D'Agostino and M. A. Stephens (1986), Goodness-of-Fit Techniques, Dekker, table 4.7.

    Examples
    --------
    >>> round(anderson_darling_p(2.492, mean_known=True, sd_known=True), 4)
    0.05
    """
    from scipy.optimize import brentq

    weights = _eigenvalues(mean_known=bool(mean_known), sd_known=bool(sd_known))
    # The terms left out are many and small: their mean stands for them.
    left = min(real("statistic", statistic), _MOST) - 1.0 / (_TERMS + 1.0)
    if left <= _LEAST:
        return 1.0
    branch = 0.5 / float(weights[-1])

    def slope(t: float) -> float:
        return float((weights / (1.0 - 2.0 * weights * t)).sum()) - 1.0 / t - left

    saddle = float(brentq(slope, 1e-9 * branch, branch * (1.0 - 1e-12)))
    bend = float((2.0 * (weights / (1.0 - 2.0 * weights * saddle)) ** 2).sum()) + 1.0 / saddle**2
    scale = 1.0 / np.sqrt(bend)
    y = np.linspace(0.0, _FURTHEST, _NODES + 1)
    path, way = saddle + scale * (1j * y + _TURN * y * y), scale * (1j + 2.0 * _TURN * y)
    logs = -0.5 * np.log1p(-2.0 * np.outer(path, weights)).sum(axis=1) - path * left
    integrand = (np.exp(logs) * way / path).imag
    integrand[0] /= 2.0
    return float(np.clip(integrand.sum() * _FURTHEST / _NODES / np.pi, 0.0, 1.0))
