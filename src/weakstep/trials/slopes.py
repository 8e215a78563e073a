"""Sizes for a logistic model: a parameter's slope, and a group against the rest."""

from __future__ import annotations

import math
from statistics import NormalDist

from weakstep.failures.enough import ALPHA, POWER
from weakstep.trials.proportions import refuse_unless_apart


def chips_for_slope(
    rate: float,
    log_odds_ratio: float,
    *,
    power: float = POWER,
    alpha: float = ALPHA,
    explained: float = 0.0,
) -> int:
    r"""
    Chips needed to see a logistic slope on a normally distributed parameter.

    .. math:: n = \frac{(z_{1-\alpha/2} + z_{1-\beta})^2}{p (1 - p) b^2 (1 - R^2)}

    Parameters
    ----------
    rate : float
        Failure rate p at the parameter's mean, between 0 and 1.
    log_odds_ratio : float
        Slope b per standard deviation of the parameter; not 0.
    power, alpha : float
        Chance to see it; two-sided chance of a false "yes".
    explained : float, default 0
        R^2 of the parameter on the other parameters of the model.

    Returns
    -------
    int
        Chips that fail independently.

    Raises
    ------
    ValueError
        Nothing to see, a rate that is no share, or a parameter that the others explain wholly.

    References
    ----------
    Hsieh, F. Y., Bloch, D. A. & Larsen, M. D. (1998), Statistics in Medicine 17, 1623-1634,
    formula (1) and section 3.

    Examples
    --------
    >>> chips_for_slope(0.5, 0.405, power=0.95)
    317
    """
    if log_odds_ratio == 0.0 or not 0.0 < rate < 1.0:
        msg = (
            f"Found rate {rate:g} and log odds ratio {log_odds_ratio:g}; expected a rate between 0 "
            "and 1 and a ratio that is not 0."
        )
        raise ValueError(msg)
    _refuse_all_explained(explained)
    normal = NormalDist()
    reach = normal.inv_cdf(1.0 - alpha / 2.0) + normal.inv_cdf(power)
    information = rate * (1.0 - rate) * log_odds_ratio**2 * (1.0 - explained)
    return math.ceil(reach**2 / information)


def chips_for_groups(
    rate_rest: float,
    rate_group: float,
    share_in_group: float = 0.5,
    *,
    power: float = POWER,
    alpha: float = ALPHA,
    explained: float = 0.0,
) -> int:
    r"""
    Chips needed in all to see a difference between two groups of unequal size.

    With B the share in the group and :math:`\bar p = (1 - B) p_1 + B p_2`,

    .. math:: n = \frac{\left(z_{1-\alpha/2} \sqrt{\bar p (1 - \bar p) / B} + z_{1-\beta}
        \sqrt{p_1 (1 - p_1) + p_2 (1 - p_2) (1 - B) / B}\right)^2}{(p_1 - p_2)^2 (1 - B)},

    divided by :math:`1 - R^2` where other parameters stand in the model.

    Parameters
    ----------
    rate_rest, rate_group : float
        Failure rates p1 and p2, different.
    share_in_group : float, default 0.5
        B, between 0 and 1.
    power, alpha : float
    explained : float, default 0
        R^2 of being in the group on the other parameters of the model.

    Returns
    -------
    int
        Chips that fail independently.

    Raises
    ------
    ValueError
        Nothing to see, a rate or group that is no share, or one that the others explain wholly.

    References
    ----------
    Hsieh, F. Y., Bloch, D. A. & Larsen, M. D. (1998), Statistics in Medicine 17, 1623-1634,
    formula (2) and section 3.

    Examples
    --------
    >>> chips_for_groups(0.4, 0.5, power=0.95)
    1281
    """
    refuse_unless_apart(rate_rest, rate_group, power, alpha)
    _refuse_all_explained(explained)
    b = share_in_group
    if not 0.0 < b < 1.0:
        msg = f"Found a share in the group of {b:g}; expected one between 0 and 1."
        raise ValueError(msg)
    normal = NormalDist()
    middle = (1.0 - b) * rate_rest + b * rate_group
    null = math.sqrt(middle * (1.0 - middle) / b)
    spread = rate_rest * (1.0 - rate_rest) + rate_group * (1.0 - rate_group) * (1.0 - b) / b
    reach = normal.inv_cdf(1.0 - alpha / 2.0) * null + normal.inv_cdf(power) * math.sqrt(spread)
    apart = (rate_rest - rate_group) ** 2 * (1.0 - b) * (1.0 - explained)
    return math.ceil(reach**2 / apart)


def _refuse_all_explained(explained: float) -> None:
    if not 0.0 <= explained < 1.0:
        msg = f"Found {explained:g} explained by the others; expected from 0 to below 1."
        raise ValueError(msg)
