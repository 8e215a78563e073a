"""Sizes for two failure rates by published formulas: equal and unequal groups, clusters."""

from __future__ import annotations

import math
from statistics import NormalDist

from weakstep.failures.enough import ALPHA, POWER


def refuse_unless_apart(
    one: float, two: float, power: float, alpha: float, ratio: float = 1.0
) -> None:
    """
    Refuse a question that no number of chips settles.

    Raises
    ------
    ValueError
        Two rates that are the same or not shares, a power or alpha that is no chance, or groups in
        a ratio that is not above 0.
    """
    if one == two or not (min(one, two) >= 0.0 and max(one, two) <= 1.0):
        msg = f"Found rates {one:g} and {two:g}; expected two different ones between 0 and 1."
        raise ValueError(msg)
    if not (0.0 < power < 1.0 and 0.0 < alpha < 1.0):
        msg = f"Found power {power:g} and alpha {alpha:g}; expected chances between 0 and 1."
        raise ValueError(msg)
    if not 0.0 < ratio < math.inf:
        msg = f"Found groups in a ratio of {ratio:g}; expected one above 0."
        raise ValueError(msg)


def chips_for_rates(
    rate_one: float,
    rate_two: float,
    *,
    ratio: float = 1.0,
    corrected: bool = False,
    power: float = POWER,
    alpha: float = ALPHA,
) -> tuple[int, int]:
    r"""
    Chips in each of two groups, equal or not, that tell two failure rates apart.

    With :math:`r` the second group over the first and :math:`\bar p = (p_1 + r p_2) / (r + 1)`,

    .. math:: m' = \frac{\left(z_{1-\alpha/2} \sqrt{(r + 1) \bar p (1 - \bar p)} + z_{1-\beta}
        \sqrt{r p_1 (1 - p_1) + p_2 (1 - p_2)}\right)^2}{r (p_1 - p_2)^2}

    chips are needed in the first group and :math:`r m'` in the second; for a chi-square test with
    continuity correction, or an exact one,

    .. math:: m = \frac{m'}{4} \left(1 + \sqrt{1 + \frac{2 (r + 1)}{r m' |p_1 - p_2|}}\right)^2.

    Parameters
    ----------
    rate_one, rate_two : float
        Different, between 0 and 1.
    ratio : float, default 1
        Chips in the second group for each in the first, above 0.
    corrected : bool, default False
        Whether the continuity correction is planned for.
    power, alpha : float
        Chance to see the difference; two-sided chance of a false "yes".

    Returns
    -------
    tuple of two int
        Chips that fail independently; times the design effect (`inflation`) where they do not.

    Raises
    ------
    ValueError
        Rates that are the same or no shares; a power or alpha that is no chance; no ratio.

    References
    ----------
    Fleiss, J. L., Tytun, A. & Ury, H. K. (1980), A simple approximation for calculating sample
    sizes for comparing independent proportions, Biometrics 36, 343-346; Fleiss, J. L. (1981),
    Statistical Methods for Rates and Proportions, 2nd edition, section 3.2.

    Examples
    --------
    >>> chips_for_rates(0.1, 0.3), chips_for_rates(0.1, 0.3, corrected=True)
    ((62, 62), (72, 72))
    """
    refuse_unless_apart(rate_one, rate_two, power, alpha, ratio)
    normal = NormalDist()
    middle = (rate_one + ratio * rate_two) / (ratio + 1.0)
    null = math.sqrt((ratio + 1.0) * middle * (1.0 - middle))
    apart = math.sqrt(ratio * rate_one * (1.0 - rate_one) + rate_two * (1.0 - rate_two))
    reach = normal.inv_cdf(1.0 - alpha / 2.0) * null + normal.inv_cdf(power) * apart
    difference = abs(rate_one - rate_two)
    first = reach**2 / (ratio * difference**2)
    if corrected:
        root = math.sqrt(1.0 + 2.0 * (ratio + 1.0) / (ratio * first * difference))
        first = first / 4.0 * (1.0 + root) ** 2
    return math.ceil(first), math.ceil(ratio * first)


def power_for_rates(
    rate_one: float, rate_two: float, chips: int, *, ratio: float = 1.0, alpha: float = ALPHA
) -> float:
    r"""
    Chance that two groups of given size tell two failure rates apart: `chips_for_rates` turned.

    .. math:: \Phi\left(\frac{|p_1 - p_2| \sqrt{r n} - z_{1-\alpha/2} \sqrt{(r + 1) \bar p
        (1 - \bar p)}}{\sqrt{r p_1 (1 - p_1) + p_2 (1 - p_2)}}\right)

    Parameters
    ----------
    rate_one, rate_two, ratio, alpha
        As for `chips_for_rates`.
    chips : int
        In the first group, n.

    Raises
    ------
    ValueError
        Rates that are the same or no shares; an alpha that is no chance; no ratio.

    References
    ----------
    As for `chips_for_rates`, without the correction.

    Examples
    --------
    >>> round(power_for_rates(0.50, 0.75, 50), 3)
    0.74
    """
    refuse_unless_apart(rate_one, rate_two, POWER, alpha, ratio)
    normal = NormalDist()
    middle = (rate_one + ratio * rate_two) / (ratio + 1.0)
    null = math.sqrt((ratio + 1.0) * middle * (1.0 - middle))
    apart = math.sqrt(ratio * rate_one * (1.0 - rate_one) + rate_two * (1.0 - rate_two))
    off = abs(rate_one - rate_two) * math.sqrt(ratio * chips)
    return normal.cdf((off - normal.inv_cdf(1.0 - alpha / 2.0) * null) / apart)


def chips_by_arcsine(
    rate_one: float,
    rate_two: float,
    *,
    ratio: float = 1.0,
    power: float = POWER,
    alpha: float = ALPHA,
) -> tuple[int, int]:
    r"""
    Chips in each of two groups by the arcsine transformation.

    With :math:`h = 2 \arcsin \sqrt{p_1} - 2 \arcsin \sqrt{p_2}`, the first group needs
    :math:`(z_{1-\alpha/2} + z_{1-\beta})^2 (1 + 1/r) / h^2` chips.

    Parameters
    ----------
    rate_one, rate_two, ratio, power, alpha
        As for `chips_for_rates`.

    Raises
    ------
    ValueError
        Rates that are the same or no shares; a power or alpha that is no chance; no ratio.

    References
    ----------
    Cohen, J. (1988), Statistical Power Analysis for the Behavioral Sciences, 2nd edition, chapter
    6.

    Examples
    --------
    >>> chips_by_arcsine(0.1, 0.3)
    (60, 60)
    """
    refuse_unless_apart(rate_one, rate_two, power, alpha, ratio)
    normal = NormalDist()
    apart = 2.0 * (math.asin(math.sqrt(rate_one)) - math.asin(math.sqrt(rate_two)))
    reach = normal.inv_cdf(1.0 - alpha / 2.0) + normal.inv_cdf(power)
    first = (reach / apart) ** 2 * (1.0 + 1.0 / ratio)
    return math.ceil(first), math.ceil(ratio * first)


def inflation(chips: float, correlation: float, variation: float = 0.0) -> float:
    r"""
    Design effect: how many times more chips are needed because chips of one run fail together.

    .. math:: 1 + \left((1 + c^2) m - 1\right) \rho

    Parameters
    ----------
    chips : float
        Mean chips of a run, m.
    correlation : float
        Of the outcomes of two chips of a run.
    variation : float, default 0
        Coefficient of variation c of the chips of a run.

    References
    ----------
    Donner, A. & Klar, N. (2000), Design and Analysis of Cluster Randomization Trials in Health
    Research, chapter 5; Eldridge, S. M., Ashby, D. & Kerry, S. (2006), International Journal of
    Epidemiology 35, 1292-1300, for unequal runs.

    Examples
    --------
    >>> round(inflation(100, 0.01), 2), round(inflation(20, 0.05, variation=0.5), 2)
    (1.99, 2.2)
    """
    return 1.0 + ((1.0 + variation**2) * chips - 1.0) * correlation
