"""Whether values are normal (Anderson and Darling), and on which scale they are (Box and Cox)."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.anderson_darling_laws import anderson_darling_p
from weakstep.charts.checks import numbers, real
from weakstep.charts.row_checks import one_row
from weakstep.errors import NotEnoughError
from weakstep.interval import Interval

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

_LEAST = 8  # values, below which Stephens' approximation was not made, nor is the limit law close
_LEAST_KNOWN = 5  # values with both parameters known, from which on the limit law serves
_DROP_95 = 1.920729410347062  # half the 95 % point of chi-squared with one degree of freedom
_WIDEST = 8.0  # no power beyond this is looked at
# Stephens' p as exp(a + b A + c A^2) of the modified statistic A, by range of A: (upper end,
# coefficients, whether the formula gives 1 - p).
_STEPHENS = (
    (0.200, (-13.436, 101.14, -223.73), True),
    (0.340, (-8.318, 42.796, -59.938), True),
    (0.600, (0.9177, -4.279, -1.38), False),
    (math.inf, (1.2937, -5.709, 0.0186), False),
)
_MOST_A = 10.0  # beyond, the fitted parabola turns up again; p is below 1e-20 there


@dataclass(frozen=True)
class NormalityTest:
    """
    Anderson and Darling's test of normality.

    Attributes
    ----------
    statistic : float
        :math:`A^2`.
    modified : float
        With mean and standard deviation estimated :math:`A^2 (1 + 0.75/n + 2.25/n^2)`, to be held
        against 0.631, 0.752, 0.873, 1.035 (10, 5, 2.5 and 1 %); otherwise :math:`A^2` itself, to
        be held against 1.933, 2.492, 3.070, 3.857 (both known), 0.894, 1.087, 1.285, 1.551 (mean
        estimated) or 1.743, 2.308, 2.898, 3.702 (standard deviation estimated).
    p : float
    case : int
        Stephens' case: 0 both known, 1 mean estimated, 2 standard deviation estimated, 3 both.
    """

    statistic: float
    modified: float
    p: float
    case: int


def anderson_darling(
    values: ArrayLike, *, mean: float | None = None, sd: float | None = None
) -> NormalityTest:
    r"""
    Test whether values come from a normal distribution, its parameters known or not.

    .. math::
        A^2 = -n - \frac1n \sum_i (2i - 1) [\ln \Phi(y_i) + \ln(1 - \Phi(y_{n+1-i}))]

    of the sorted values in standard deviations from the mean. With both estimated (the usual case)
    p is Stephens' formula of the modified statistic (within 0.026 of the exact limit, and within
    3 % of itself where p is from 0.001 to 0.15; far smaller p tell only that they are small).
    Otherwise it is that of the exact distribution for many values, which few values reach already.

    Parameters
    ----------
    values : array_like, shape (n_values,)
        NaN is left out.
    mean, sd : float, optional
        Known mean and standard deviation; default estimated (*sd* about a known mean with divisor
        *n*, else *n* - 1).

    Returns
    -------
    NormalityTest

    Raises
    ------
    ValueError
        *values* is not one row of numbers, or *mean* or *sd* is out of range.
    NotEnoughError
        Fewer than 8 values (5 with both known), or no variation to estimate a standard deviation
        from.

    References
    ----------
    R. B. D'Agostino and M. A. Stephens (1986), Goodness-of-Fit Techniques, Dekker, sections 4.2 to
    4.8 (cases 0 to 3). T. W. Anderson and D. A. Darling (1954), A test of goodness of fit, Journal
    of the American Statistical Association 49, 765-769.

    Examples
    --------
    >>> test = anderson_darling([1, 2, 3, 4, 5, 6, 7, 8, 9, 40])
    >>> round(test.statistic, 3), test.p < 0.01, test.case
    (1.745, True, 3)
    >>> test = anderson_darling([-1.2, -0.4, 0.1, 0.3, 1.4], mean=0.0, sd=1.0)
    >>> round(test.statistic, 3), round(test.p, 2), test.case
    (0.182, 0.99, 0)
    """
    from scipy.special import log_ndtr

    estimated = (mean is None) + 2 * (sd is None)
    known = _logged(values, _LEAST if estimated else _LEAST_KNOWN, varied=sd is None)
    count = len(known)
    middle = float(known.mean()) if mean is None else real("mean", mean)
    if sd is not None:
        spread = real("sd", sd, above=0.0)
    else:
        spread = math.sqrt(float(((known - middle) ** 2).sum()) / (count - (mean is None)))
    y = np.sort((known - middle) / spread)
    odd = 2.0 * np.arange(1, count + 1) - 1.0
    statistic = -count - float(odd @ (log_ndtr(y) + log_ndtr(-y[::-1]))) / count
    if estimated == 3:
        modified = statistic * (1.0 + 0.75 / count + 2.25 / count**2)
        return NormalityTest(statistic, modified, stephens_p(modified), 3)
    p = anderson_darling_p(statistic, mean_known=mean is not None, sd_known=sd is not None)
    return NormalityTest(statistic, statistic, p, estimated)


def stephens_p(modified: float) -> float:
    """Chance of a modified statistic as large as this for normal values (Stephens, case 3)."""
    a = min(modified, _MOST_A)
    _, (first, second, third), below = next(row for row in _STEPHENS if a < row[0])
    fitted = math.exp(first + second * a + third * a * a)
    return 1.0 - fitted if below else fitted


def box_cox(values: ArrayLike, design: ArrayLike | None = None) -> Interval:
    r"""
    Power that makes values, or what a linear model leaves of them, most nearly normal.

    Maximises :math:`-\tfrac n2 \ln RSS(\lambda) + (\lambda - 1) \sum \ln x` with
    :math:`x^{(\lambda)} = (x^\lambda - 1)/\lambda`; the 95 % interval holds all powers within
    1.92 of the best log likelihood. 0 is the logarithm, 1 the plain scale.

    Parameters
    ----------
    values : array_like, shape (n_values,)
        All above 0; no NaN with a design, else left out.
    design : array_like, shape (n_values, n_columns), optional
        Columns of a linear model, the constant among them; default a constant.

    Returns
    -------
    Interval
        Powers between -8 and 8; an end at one of these is open.

    Raises
    ------
    ValueError
        A value is not above 0, or *design* has another length.
    NotEnoughError
        Too few values, or all of them equal.

    References
    ----------
    G. E. P. Box and D. R. Cox (1964), An analysis of transformations, Journal of the Royal
    Statistical Society B 26, 211-252.

    Examples
    --------
    >>> power = box_cox(np.exp(np.linspace(-1, 1, 21)))
    >>> power.lower < 0.0 < power.upper
    True
    """
    known = _logged(values, 3, varied=True)
    if known.min() <= 0.0:
        msg = f"values must be above 0 for a power scale, found {known.min():g}"
        raise ValueError(msg)
    columns = np.ones((len(known), 1)) if design is None else numbers("design", design)
    if columns.ndim != 2 or len(columns) != len(known):
        msg = f"design must have one row for each of {len(known)} values, got {columns.shape}"
        raise ValueError(msg)
    basis = np.linalg.qr(columns)[0]
    logs = np.log(known / np.exp(np.log(known).mean()))  # in units of the geometric mean

    def likelihood(power: float) -> float:
        scaled = logs if abs(power) < 1e-10 else np.expm1(power * logs) / power
        left = scaled - basis @ (basis.T @ scaled)
        return float(-len(known) / 2.0 * np.log(left @ left))

    return _profile_interval(likelihood)


def _profile_interval(likelihood: Callable[[float], float]) -> Interval:
    from scipy.optimize import brentq, minimize_scalar

    best = float(
        minimize_scalar(
            lambda power: -likelihood(power),
            bounds=(-_WIDEST, _WIDEST),
            method="bounded",
            options={"xatol": 1e-9},
        ).x
    )
    floor = likelihood(best) - _DROP_95

    def end(limit: float) -> float:
        if likelihood(limit) > floor:
            return limit
        return float(brentq(lambda power: likelihood(power) - floor, best, limit, xtol=1e-9))

    return Interval(best, end(-_WIDEST), end(_WIDEST), 0.95)


def _logged(values: ArrayLike, least: int, *, varied: bool) -> Floats:
    row = one_row(values)
    known = row[~np.isnan(row)]
    if len(known) < least or (varied and np.ptp(known) == 0.0):
        msg = f"At least {least} values that differ are needed; {len(known)} logged."
        raise NotEnoughError(msg)
    return known
