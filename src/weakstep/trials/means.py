"""Power and size of a trial with a measured outcome: the t test of run means."""

from __future__ import annotations

import math

from weakstep.failures.enough import ALPHA, POWER


def mean_power(difference: float, deviation: float, runs: int, alpha: float = ALPHA) -> float:
    r"""
    Chance that a two-sided t test of two groups of *runs* shows a difference of means.

    With noncentrality :math:`d \sqrt{n/2} / s` and :math:`2n - 2` degrees of freedom.

    Parameters
    ----------
    difference, deviation : float
        Of run means, in one unit; deviation between runs at one level, above 0.
    runs : int
        At each level, at least 2.
    alpha : float

    References
    ----------
    Cohen, J. (1988), Statistical Power Analysis for the Behavioral Sciences, 2nd edition, section
    2.3.

    Examples
    --------
    >>> round(mean_power(0.5, 1.0, 64), 3)
    0.801
    """
    from scipy.special import nctdtr, stdtrit

    freedom = 2.0 * runs - 2.0
    reach = float(stdtrit(freedom, 1.0 - alpha / 2.0))
    off = abs(difference) / deviation * math.sqrt(runs / 2.0)
    return float(1.0 - nctdtr(freedom, off, reach) + nctdtr(freedom, off, -reach))


def runs_for_means(
    difference: float, deviation: float, *, power: float = POWER, alpha: float = ALPHA
) -> int:
    """
    Count the runs at each of two levels that show a difference of means of a measured outcome.

    Chips of one run are averaged first, so *deviation* is that between run means.

    Raises
    ------
    ValueError
        No difference, or no deviation.

    References
    ----------
    As for `mean_power`; Cohen's table 2.4.1 gives 64 for d = 0.5, 26 for d = 0.8.

    Examples
    --------
    >>> runs_for_means(0.5, 1.0), runs_for_means(0.8, 1.0)
    (64, 26)
    """
    if difference == 0.0 or deviation <= 0.0:
        msg = (
            f"Found a difference of {difference:g} and a deviation of {deviation:g}; expected a "
            "difference that is not 0 and a deviation above 0."
        )
        raise ValueError(msg)
    few, enough = 1, 2
    while mean_power(difference, deviation, enough, alpha) < power:
        few, enough = enough, 2 * enough
    while enough - few > 1:
        middle = (few + enough) // 2
        if mean_power(difference, deviation, middle, alpha) < power:
            few = middle
        else:
            enough = middle
    return enough
