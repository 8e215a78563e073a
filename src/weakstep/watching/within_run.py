"""How far chips of one run fail together, on the safe side."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.watching.failing import counts_law

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Counts = NDArray[np.int_]

_GRID = np.linspace(0.0, 0.6, 25)
_USUAL = 0.15  # mean correlation beforehand
_COST = 10.0  # log chance of a high sum that a wrong correlation multiplies
_HALVINGS = 40


def safe_correlation(failed: Counts, tested: Counts) -> float:
    r"""
    Correlation of chips of a run to allow for, so that false alarms keep their chance.

    The beta-binomial likelihood of the counts, at their rate, times :math:`e^{-\rho / 0.15}`
    leaves open where :math:`\rho` lies. A correlation taken too small makes the chance of a high
    sum grow much faster than one taken too large makes it shrink: with :math:`g = 1 + (m - 1)
    \rho` the design effect, *m* the mean size of a chip's run and :math:`e^{-c}` the chance, the
    correlation returned solves :math:`E \exp(-c\, g^* / g) = e^{-c}`; *c* is 10.

    Parameters
    ----------
    failed, tested : array of int, shape (n_runs,)
        At least one chip tested.

    Returns
    -------
    float
        From 0 to 0.6; 0 when no run has two chips.

    References
    ----------
    J. G. Skellam (1948), A probability distribution derived from the binomial distribution by
    regarding the probability of success as variable between the sets of trials, Journal of the
    Royal Statistical Society B 10, 257-261 (beta-binomial law; from memory).

    Examples
    --------
    >>> apart, together = np.tile([1, 1, 1, 0], 200), np.tile([3, 0, 0, 0], 200)
    >>> three = np.full(800, 3)
    >>> round(safe_correlation(apart, three), 1), round(safe_correlation(together, three), 1)
    (0.0, 0.6)
    """
    size = float((tested.astype(float) ** 2).sum() / tested.sum())
    if size <= 1.0:
        return 0.0
    rate = np.array([(failed.sum() + 0.5) / (tested.sum() + 1.0)])
    logs = -_GRID / _USUAL
    for chips in np.unique(tested[tested > 1]):
        counts = np.bincount(failed[tested == chips], minlength=int(chips) + 1)
        laws = np.array([counts_law(rate, int(chips), float(one))[0] for one in _GRID])
        logs = logs + np.log(np.maximum(laws, 1e-300)) @ counts
    likely = np.exp(logs - logs.max())
    likely /= likely.sum()
    effect = 1.0 + (size - 1.0) * _GRID
    low, high = effect[0], effect[-1]
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        if likely @ np.exp(-_COST * middle / effect) > np.exp(-_COST):
            low = middle
        else:
            high = middle
    return float((high - 1.0) / (size - 1.0))
