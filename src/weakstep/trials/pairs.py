"""Sizes for two failure rates seen in pairs of chips, by published formulas."""

from __future__ import annotations

import math
from statistics import NormalDist

from weakstep.failures.enough import ALPHA, POWER
from weakstep.trials.proportions import refuse_unless_apart


def chips_in_pairs(
    rate_one: float,
    rate_two: float,
    correlation: float = 0.0,
    *,
    power: float = POWER,
    alpha: float = ALPHA,
) -> int:
    r"""
    Pairs of chips, one at each level side by side, that tell two failure rates apart.

    With :math:`p_{11} = p_1 p_2 + \rho \sqrt{p_1 (1 - p_1) p_2 (1 - p_2)}` the share of pairs of
    which both fail, :math:`\psi = p_1 + p_2 - 2 p_{11}` that of pairs that disagree and
    :math:`d = p_1 - p_2`, McNemar's test needs

    .. math:: n = \frac{\left(z_{1-\alpha/2} \sqrt{\psi} + z_{1-\beta} \sqrt{\psi -
        d^2}\right)^2}{d^2}.

    Parameters
    ----------
    rate_one, rate_two : float
        Different, between 0 and 1.
    correlation : float, default 0
        Of the two outcomes of a pair: what pairing (by day, by operator) gains.
    power, alpha : float
        Chance to see it; two-sided chance of a false "yes".

    Raises
    ------
    ValueError
        Rates that are the same or no shares; a power or alpha that is no chance.

    References
    ----------
    Connor, R. J. (1987), Sample size for testing differences in proportions for the paired-sample
    design, Biometrics 43, 207-211.

    Examples
    --------
    >>> chips_in_pairs(0.4, 0.2), chips_in_pairs(0.4, 0.2, correlation=0.3)
    (84, 61)
    """
    both = rate_one * rate_two + correlation * math.sqrt(
        rate_one * (1 - rate_one) * rate_two * (1 - rate_two)
    )
    both = min(both, rate_one, rate_two)  # rates far apart leave no room for a close correlation
    return pairs_for_rates(rate_one - both, rate_two - both, power=power, alpha=alpha)


def pairs_for_rates(
    only_first: float,
    only_second: float,
    *,
    conditional: bool = False,
    power: float = POWER,
    alpha: float = ALPHA,
) -> int:
    r"""
    Pairs for McNemar's test from the shares of pairs of which only one chip fails.

    With :math:`\psi` their sum and :math:`d` their difference, the formula of `chips_in_pairs`; or,
    from the power given how many pairs disagree,

    .. math:: n = \frac{\left(z_{1-\alpha/2} \psi + z_{1-\beta} \sqrt{\psi^2 - d^2 (3 + \psi) / 4}
        \right)^2}{\psi d^2}.

    Parameters
    ----------
    only_first, only_second : float
        Different, at least 0, together at most 1.
    conditional : bool, default False
        Use the second formula.
    power, alpha : float

    Raises
    ------
    ValueError
        Shares that are the same, no shares or together above 1; a power or alpha that is no chance.

    References
    ----------
    Connor, R. J. (1987), Biometrics 43, 207-211; Miettinen, O. S. (1968), The matched pairs design
    in the case of all-or-none responses, Biometrics 24, 339-352, for the second.

    Examples
    --------
    >>> pairs_for_rates(0.32, 0.12), pairs_for_rates(0.32, 0.12, conditional=True)
    (84, 82)
    """
    refuse_unless_apart(only_first, only_second, power, alpha)
    if only_first + only_second > 1.0:
        msg = (
            f"Found shares {only_first:g} and {only_second:g} of pairs; expected at most 1 in all."
        )
        raise ValueError(msg)
    normal = NormalDist()
    sure, strong = normal.inv_cdf(1.0 - alpha / 2.0), normal.inv_cdf(power)
    apart, difference = only_first + only_second, only_first - only_second
    if conditional:
        left = math.sqrt(apart**2 - difference**2 * (3.0 + apart) / 4.0)
        return math.ceil((sure * apart + strong * left) ** 2 / (apart * difference**2))
    left = math.sqrt(apart - difference**2)
    return math.ceil((sure * math.sqrt(apart) + strong * left) ** 2 / difference**2)
