"""How easily luck alone makes periods differ: whole runs, or operators, dealt again by lot."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.null_model import fit_null, operator_background, overdispersion
from weakstep.trials.dealing import how_dealt, lots_of
from weakstep.trials.nested import as_if_independent

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Counts = NDArray[np.int_]
    Words = NDArray[np.str_]

_MANY_RUNS = 3000  # beyond it re-orderings take long, and their law is normal
_SLOPE_SD = 2.0  # prior of a logit per period: weak
_MOST_NUMBERS = 6_000_000  # drawn by re-orderings of a long log


def chance_of_luck(
    failed: Counts,
    tested: Counts,
    score: NDArray[np.bool_] | Counts,
    operator: Words,
    *,
    seed: int = 0,
    reorderings: int = 4999,
) -> float:
    r"""
    Chance of a difference, or a trend, as large when runs are dealt to the periods by lot.

    The statistic is :math:`\sum_i s_i (k_i - m_i \bar p)`, that of Cochran and Armitage's test for
    trend, which compares two rates when the score is 0 or 1. Whole runs are dealt, within
    operators, so that chips of a run stay together and a change of hands is not taken for a change
    of the process; where hands changed with the periods, whole operators (`how_dealt`). With *B*
    re-orderings, of which *b* differ from what is expected under them by at least as much,
    :math:`p = (b + 1) / (B + 1)`. Untested runs say nothing and are left out.

    Where operators are new and too few to be dealt, the slope over the periods (`slope`) is
    compared with its standard error, in which operators differ as they usually do. How much these
    few differ is supposed, not seen, so the t law has but as many degrees of freedom as there are
    operators.

    Parameters
    ----------
    failed, tested : array of int, shape (n_runs,)
    score : array of bool or int, shape (n_runs,)
        Whether a run is of the second period, or the place of its period.
    operator : array of str, shape (n_runs,)
    seed : int
    reorderings : int

    Returns
    -------
    float
        Two-sided.

    References
    ----------
    Armitage, P. (1955), Tests for linear trends in proportions and frequencies, Biometrics 11,
    375-386; Edgington, E. S. & Onghena, P. (2007), Randomization Tests, 4th edition, chapter 3.

    Examples
    --------
    >>> later = np.arange(20) >= 10
    >>> chance_of_luck(3 * ~later, np.full(20, 3), later, np.full(20, "OP1"), seed=1)
    0.0002
    """
    used = tested > 0
    failed, tested, score, operator = failed[used], tested[used], score[used], operator[used]
    if how_dealt(operator, score) == "too few operators":
        return _by_slope(failed, tested, score, operator)
    lots = lots_of(failed, tested, score, operator)
    excess = lots.failed - lots.tested * (failed.sum() / max(1, tested.sum()))
    place = lots.period.astype(float)
    strata = [lots.stratum == one for one in np.unique(lots.stratum)]
    expected = sum(float(place[one].sum()) * float(excess[one].mean()) for one in strata)
    off = abs(float(excess @ place) - expected)
    if len(excess) > _MANY_RUNS:
        return _by_normal_law(off, [(excess[one], place[one]) for one in strata])
    rng = np.random.default_rng(seed)
    dealt = np.zeros(reorderings)
    for inside in strata:
        orders = rng.permuted(np.tile(excess[inside], (reorderings, 1)), axis=1)
        dealt += orders @ place[inside]
    beyond = np.abs(dealt - expected) >= off - 1e-9
    return float((beyond.sum() + 1) / (reorderings + 1))


def _by_normal_law(off: float, strata: list[tuple[NDArray[np.float64], ...]]) -> float:
    r"""
    Return the chance of a departure *off* by the normal law that re-orderings of many runs follow.

    Its variance is exact: :math:`\sum (s_i - \bar s)^2 \sum (e_i - \bar e)^2 / (n - 1)` summed over
    strata (Hoeffding, W. 1951, Annals of Mathematical Statistics 22, 558-566).
    """
    from scipy.special import ndtr

    variance = sum(
        float(excess.var()) * float(place.var()) * len(excess) ** 2 / (len(excess) - 1)
        for excess, place in strata
        if len(excess) > 1
    )
    return 1.0 if variance == 0.0 else float(2.0 * ndtr(-off / variance**0.5))


def _by_slope(
    failed: Counts, tested: Counts, score: NDArray[np.bool_] | Counts, operator: Words
) -> float:
    """Return the chance of a slope as steep by the t law of the operators."""
    from scipy.special import stdtr

    found = slope(failed, tested, score, operator)
    if found is None:
        return 1.0
    return float(2.0 * stdtr(len(np.unique(operator)), -abs(found[0]) / found[1]))


def slope(
    failed: Counts, tested: Counts, score: NDArray[np.bool_] | Counts, operator: Words
) -> tuple[float, float] | None:
    """
    Fit the logit of failing on the place of the period, operators held as random effects.

    Parameters
    ----------
    failed, tested : array of int, shape (n_runs,)
        Chips; tested above 0.
    score : array of bool or int, shape (n_runs,)
    operator : array of str, shape (n_runs,)

    Returns
    -------
    tuple of two floats, or None
        Logits from one period to the next (prior sd 2, weak) and their standard error, with chips
        of one run taken together (`as_if_independent`) and widened by the overdispersion between
        runs that is left; None when no chip or every chip failed.

    References
    ----------
    McCullagh, P. & Nelder, J. A. (1989), Generalized Linear Models, 2nd edition, section 4.5, for
    the overdispersion.
    """
    if not 0 < failed.sum() < tested.sum():
        return None
    place = np.asarray(score, dtype=float)
    background = operator_background(operator)
    background = background.with_columns(place - float(place.mean()), _SLOPE_SD)
    fit = fit_null(background, *as_if_independent(failed, tested, score))
    error = float(np.sqrt(fit.inverse[-1, -1] * overdispersion(fit)))
    return float(fit.coefficients[-1]), error


def chance_groups_differ(
    failed: Counts,
    tested: Counts,
    group: Counts,
    within: NDArray[np.bool_] | Counts | Words,
    *,
    seed: int = 0,
    reorderings: int = 999,
) -> float | None:
    r"""
    Chance of groups of runs differing as much, in whatever order, when runs are dealt by lot.

    The statistic is :math:`\sum_g (\sum_{i \in g} e_i)^2 / \sum_{i \in g} m_i` with :math:`e_i` the
    failures of a run beyond the rate of its stratum.

    Parameters
    ----------
    failed, tested : array of int, shape (n_runs,)
        Tested above 0.
    group : array of int, shape (n_runs,)
    within : array, shape (n_runs,)
        Strata; runs are dealt within them only.
    seed : int
    reorderings : int

    Returns
    -------
    float or None
        None when every run failed as often as its stratum.

    Examples
    --------
    >>> k, m = np.repeat([3, 0, 0], 8), np.full(24, 3)
    >>> chance_groups_differ(k, m, np.repeat([0, 1, 2], 8), np.full(24, ""))
    0.001
    """
    names, codes = np.unique(group, return_inverse=True)
    strata = [within == one for one in np.unique(within)]
    excess = np.zeros(len(failed))
    for inside in strata:
        excess[inside] = failed[inside] - tested[inside] * (
            failed[inside].sum() / tested[inside].sum()
        )
    if not excess.any():
        return None
    chips = np.bincount(codes, weights=tested)
    onto_groups = (codes[:, None] == np.arange(len(names))) / np.sqrt(chips)
    rng = np.random.default_rng(seed)
    reorderings = min(reorderings, max(199, _MOST_NUMBERS // len(failed)))
    orders = np.tile(excess, (reorderings, 1))
    for inside in strata:
        orders[:, inside] = rng.permuted(orders[:, inside], axis=1)
    observed = float(((excess @ onto_groups) ** 2).sum())
    drawn = ((orders @ onto_groups) ** 2).sum(axis=1)
    return float(((drawn >= observed - 1e-12).sum() + 1) / (reorderings + 1))
