"""Intervals of capability indices, from the index, the number of values and degrees of freedom."""

from __future__ import annotations

import math
from typing import Literal

from weakstep.charts.checks import chance, degrees, real, whole_number
from weakstep.interval import Interval

Method = Literal["bissell", "nagata", "heavlin", "kushler"]
_FURTHEST = 1e6  # index, or offset in standard deviations
_ALL_SIGMA = 100.0  # index beyond which only sigma makes it unsure
_KNOWN = 1e9  # degrees of freedom that count as a known sigma


def spread_index_interval(index: float, freedom: float, level: float = 0.95) -> Interval:
    r"""
    Interval of Cp (or Pp): :math:`\hat C \sqrt{\chi^2_{\alpha/2, f} / f}` to the upper quantile.

    Parameters
    ----------
    index : float
        Estimated index.
    freedom : float
        Degrees of freedom of the sigma in it.
    level : float, default 0.95

    Returns
    -------
    Interval

    Raises
    ------
    ValueError
        An argument is out of range.

    References
    ----------
    D. C. Montgomery, Introduction to Statistical Quality Control, chapter on process capability.

    Examples
    --------
    >>> found = spread_index_interval(2.29, 19)
    >>> round(found.lower, 2), round(found.upper, 2)
    (1.57, 3.01)
    """
    from scipy.special import chdtri

    half = (1.0 - chance("level", level)) / 2.0
    real("index", index, least=-_FURTHEST, most=_FURTHEST)
    if degrees("freedom", freedom) == math.inf:
        return Interval(index, index, index, level)
    lower, upper = (math.sqrt(chdtri(freedom, tail) / freedom) for tail in (1.0 - half, half))
    return Interval(index, index * lower, index * upper, level)


def centred_index_interval(
    index: float,
    n_values: int,
    level: float = 0.95,
    *,
    freedom: float | None = None,
    method: Method = "bissell",
) -> Interval:
    r"""
    Interval of Cpk (or Ppk) by one of the published approximations.

    With *f* degrees of freedom of sigma, :math:`n - 1` if it is that of all values:

    * Bissell: :math:`\hat C \pm z \sqrt{1 / 9 n + \hat C^2 / 2 f}`;
    * Nagata and Nagahata: :math:`\sqrt{1 - 2 / 5 f}\, \hat C \pm z \sqrt{1 / 9 n +
      \hat C^2 / 2 f}`;
    * Heavlin: :math:`\hat C \pm z \sqrt{\frac{f}{9 n (f - 2)} + \frac{\hat C^2}{2 (f - 2)}
      (1 + 6 / f)}`;
    * Kushler and Hurley: :math:`\hat C (1 \pm z / \sqrt{2 f})`, by hand.

    Parameters
    ----------
    index : float
        Estimated index.
    n_values : int
        Behind the mean.
    level : float, default 0.95
    freedom : float, optional
        Degrees of freedom of sigma, default *n_values* - 1.
    method : {"bissell", "nagata", "heavlin", "kushler"}
        Which formula.

    Returns
    -------
    Interval

    Raises
    ------
    ValueError
        An argument is out of range.

    References
    ----------
    A. F. Bissell (1990), How reliable is your capability index? Applied Statistics 39, 331-340.
    Y. Nagata and H. Nagahata (1994), Approximation formulas for the lower confidence limits of
    process capability indices, Okayama Economic Review 25, 301-314. W. D. Heavlin (1988),
    Statistical properties of capability indices, technical report. R. H. Kushler and P. Hurley
    (1992), Confidence bounds for capability indices, Journal of Quality Technology 24, 188-195.

    Examples
    --------
    >>> found = centred_index_interval(1.33, 20)
    >>> round(found.lower, 2), round(found.upper, 2)
    (0.88, 1.78)
    """
    from scipy.special import ndtri

    z = float(ndtri(0.5 + chance("level", level) / 2.0))
    behind = _behind(index, n_values, freedom)
    middle, error = index, math.sqrt(1.0 / (9.0 * n_values) + index**2 / (2.0 * behind))
    if method == "nagata":
        middle = math.sqrt(max(0.0, 1.0 - 2.0 / (5.0 * behind))) * index
    elif method == "heavlin":
        if behind <= 2.0:
            msg = f"Heavlin's formula needs more than 2 degrees of freedom, got {behind:g}"
            raise ValueError(msg)
        of_sigma = index**2 / (2.0 * (behind - 2.0)) * (1.0 + 6.0 / behind)
        error = math.sqrt(behind / (9.0 * n_values * (behind - 2.0)) + of_sigma)
    elif method == "kushler":
        error = abs(index) / math.sqrt(2.0 * behind)
    elif method != "bissell":
        msg = f"method must be 'bissell', 'nagata', 'heavlin' or 'kushler', got {method!r}"
        raise ValueError(msg)
    return Interval(index, middle - z * error, middle + z * error, level)


def _behind(index: float, n_values: int, freedom: float | None) -> float:
    """Degrees of freedom of sigma, once index and number of values are sound."""
    real("index", index, least=-_FURTHEST, most=_FURTHEST)
    whole_number("n_values", n_values, 2)
    return n_values - 1.0 if freedom is None else degrees("freedom", freedom)


def one_sided_index_interval(
    index: float, n_values: int, level: float = 0.95, *, freedom: float | None = None
) -> Interval:
    r"""
    Exact interval of a one-sided index: :math:`(U - \mu) / 3 \sigma`, or the same downwards.

    :math:`3 \sqrt n \hat C` is noncentral *t* with *f* degrees of freedom and noncentrality
    :math:`3 \sqrt n C`; the ends are those *C* for which the estimate is the upper or the lower
    quantile. Beyond 100 the mean no longer matters, and the interval is that of
    `spread_index_interval`.

    Parameters
    ----------
    index : float
        Estimated index.
    n_values : int
        Behind the mean.
    level : float, default 0.95
    freedom : float, optional
        Degrees of freedom of sigma, default *n_values* - 1 (exact); another sigma makes the
        interval an approximation.

    Returns
    -------
    Interval

    Raises
    ------
    ValueError
        An argument is out of range.

    References
    ----------
    Y. Chou, D. B. Owen and S. A. Borrego (1990), Lower confidence limits on process capability
    indices, Journal of Quality Technology 22, 223-229.

    Examples
    --------
    >>> found = one_sided_index_interval(1.33, 20)
    >>> round(found.lower, 3), round(found.upper, 3)
    (0.884, 1.772)
    """
    from scipy.optimize import brentq
    from scipy.stats import nct

    half = (1.0 - chance("level", level)) / 2.0
    behind = min(_behind(index, n_values, freedom), _KNOWN)
    if abs(index) > _ALL_SIGMA:
        spread = spread_index_interval(abs(index), behind, level)
        ends = sorted(math.copysign(end, index) for end in (spread.lower, spread.upper))
        return Interval(index, ends[0], ends[1], level)
    scale = 3.0 * math.sqrt(n_values)

    def end(tail: float) -> float:
        def excess(true: float) -> float:
            below = float(nct.cdf(scale * index, behind, scale * true))
            if math.isnan(below):  # the series ends far out, where the chance is 1 or 0
                below = float(true < index)
            return below - tail

        reach = 1.0 + abs(index)
        least, most = index - reach, index + reach
        while excess(least) < 0.0:
            least -= reach
        while excess(most) > 0.0:
            most += reach
        return float(brentq(excess, least, most, xtol=1e-12))

    return Interval(index, end(1.0 - half), end(half), level)


def target_index_interval(
    index: float, n_values: int, offset: float, level: float = 0.95
) -> Interval:
    r"""
    Interval of Cpm, by a chi-squared of the same first two moments.

    :math:`\hat C_{pm} \sqrt{\chi^2_{\alpha/2, \nu} / \nu}` to the upper quantile, with
    :math:`\nu = n (1 + \xi^2)^2 / (1 + 2 \xi^2)` and :math:`\xi = (\bar x - T) / s`.

    Parameters
    ----------
    index : float
        Estimated Cpm.
    n_values : int
    offset : float
        :math:`\xi`, of the mean from the target in standard deviations.
    level : float, default 0.95

    Returns
    -------
    Interval

    Raises
    ------
    ValueError
        An argument is out of range.

    References
    ----------
    R. A. Boyles (1991), The Taguchi capability index, Journal of Quality Technology 23, 17-26.

    Examples
    --------
    >>> found = target_index_interval(1.0, 50, 0.5)
    >>> round(found.lower, 3), round(found.upper, 3)
    (0.808, 1.191)
    """
    whole_number("n_values", n_values, 2)
    square = real("offset", offset, least=-_FURTHEST, most=_FURTHEST) ** 2
    return spread_index_interval(
        index, n_values * (1.0 + square) ** 2 / (1.0 + 2.0 * square), level
    )
