"""How chips of one run fail together, and how many more chips that takes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Counts = NDArray[np.int_]
    Flags = NDArray[np.bool_]

# Before a chip has failed nothing is seen of how chips fail together: one failed chip's worth of a
# small correlation stands in. Chosen by simulation among weights of 0 to 3 and 0.1 to 0.2.
USUAL_CORRELATION = 0.1
_ITS_WEIGHT = 1.0


@dataclass(frozen=True)
class Nesting:
    """
    How chips of one run fail together, in several groups of runs at once.

    Attributes
    ----------
    correlation : float
        Of the outcomes of two chips of a run, 0 to 1.
        As estimated.
    cautious : float
        The correlation drawn towards a small one, the more the fewer chips have failed.
    effects : tuple of float
        Design effect of each group: how many times more chips it takes. Above 1 even where the
        correlation is estimated as 0, as long as few chips have failed.
    freedom : int
        Runs less groups, at least 1.
    """

    correlation: float
    cautious: float
    effects: tuple[float, ...]
    freedom: int


def nesting(failed: Counts, tested: Counts, group: Flags | Counts) -> Nesting:
    r"""
    Estimate the within-run correlation with each group having a rate of its own.

    Mean squares between runs (within groups) and within runs give
    :math:`\hat\rho = (MS_b - MS_w) / (MS_b + (n_0 - 1) MS_w)`, at least 0, and each group's design
    effect :math:`1 + (\sum m^2 / \sum m - 1) \rho'`. A few failures say little about the
    correlation, and an estimate of 0 would then promise too much; with *F* the failed chips or the
    good ones, whichever are fewer, :math:`\rho' = (F \hat\rho + 0.1) / (F + 1)`.

    Parameters
    ----------
    failed, tested : array of int, shape (n_runs,)
    group : array of bool or int, shape (n_runs,)
        Whether a run is of the second of two groups, or its group, counted from 0.

    References
    ----------
    Ridout, M. S., Demetrio, C. G. B. & Firth, D. (1999), Biometrics 55, 137-148; Donner, A. & Klar,
    N. (2000), Design and Analysis of Cluster Randomization Trials in Health Research, chapter 5.

    Examples
    --------
    >>> halves = np.array([False, False, True, True])
    >>> found = nesting(np.array([2, 0, 2, 0]), np.array([2, 2, 2, 2]), halves)
    >>> found.correlation, [round(effect, 2) for effect in found.effects]
    (1.0, [1.82, 1.82])
    """
    used = tested > 0
    k, m, code = failed[used].astype(float), tested[used].astype(float), group[used].astype(int)
    groups = 2 if group.dtype == bool else int(group.max(initial=0)) + 1
    freedom = max(1, len(k) - groups)
    chips = np.bincount(code, weights=m, minlength=groups)
    some = np.maximum(chips, 1.0)  # an empty group adds nothing
    rate = np.bincount(code, weights=k, minlength=groups) / some
    typical = np.bincount(code, weights=m**2, minlength=groups) / some
    between = float((m * (k / m - rate[code]) ** 2).sum()) / freedom
    within = float((k * (1.0 - k / m)).sum()) / max(1.0, float(m.sum()) - len(k))
    size = (float(m.sum()) - float(typical.sum())) / freedom
    below = between + (size - 1.0) * within
    rho = min(1.0, max(0.0, (between - within) / below)) if below > 0.0 and size > 1.0 else 0.0
    seen = min(float(k.sum()), float((m - k).sum()))
    shrunk = (seen * rho + _ITS_WEIGHT * USUAL_CORRELATION) / (seen + _ITS_WEIGHT)
    effects = np.where(chips > 0.0, 1.0 + (typical - 1.0) * shrunk, 1.0)
    return Nesting(rho, shrunk, tuple(map(float, effects)), freedom)


def as_if_independent(
    failed: Counts, tested: Counts, group: Flags | Counts
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    r"""
    Return counts that weigh as much in a model as chips which fail together say.

    Failed and tested chips of a run of *m* are divided by the run's own design effect,
    :math:`1 + (m - 1) \rho'`: a run of many chips is not heard as many times.

    Parameters
    ----------
    failed, tested, group
        As for `nesting`; the correlation is the cautious one.

    Returns
    -------
    tuple of two arrays, shape (n_runs,)

    References
    ----------
    Williams, D. A. (1982), Extra-binomial variation in logistic linear models, Applied Statistics
    31, 144-148.

    Examples
    --------
    >>> k, m = np.tile([5, 0, 0, 5], 50), np.full(200, 5)
    >>> [round(float(one[0]), 2) for one in as_if_independent(k, m, np.arange(200) >= 100)]
    [1.0, 1.0]
    """
    effect = 1.0 + np.maximum(tested - 1.0, 0.0) * nesting(failed, tested, group).cautious
    return failed / effect, tested / effect
