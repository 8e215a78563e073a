"""How much each value resembles the one before, parameters lending each other strength."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_LEAST_PARAMETERS = 6  # fewer say too little about how much parameters differ
_LEAST_WEIGHT = 0.1  # that a parameter's own correlation always keeps
_FARTHEST = 1.0  # standard errors by which an estimate may be pulled down


def shared_likeness(own: Floats, counts: Floats, highest: float) -> tuple[Floats, float]:
    r"""
    Shrink lag-1 correlations towards their mean by as much as they differ by chance.

    With *k* parameters, standard errors :math:`s = n^{-1/2}` and mean *m*, the weight of each own
    correlation is :math:`1 - (k - 3) s^2 / \sum (r_i - m)^2`, at least 0.1. No estimate is pulled
    down by more than one standard error, so that a parameter unlike the others is not judged as
    if its values were independent.

    Parameters
    ----------
    own : array, shape (n_parameters,)
        Correlations, corrected for what a fitted change costs, from -1 to 1.
    counts : array, shape (n_parameters,)
        Values of each.
    highest : float
        No result lies above it, none below 0.

    Returns
    -------
    phi : array, shape (n_parameters,)
    weight : float
        Of the own correlation.

    References
    ----------
    B. Efron and C. Morris (1972), Limiting the risk of Bayes and empirical Bayes estimators,
    Journal of the American Statistical Association 67, 130-139.

    Examples
    --------
    >>> own = np.array([0.0, 0.1, -0.1, 0.05, -0.05, 0.0])
    >>> phi, weight = shared_likeness(own, np.full(6, 400.0), 0.8)
    >>> phi.round(3).tolist(), round(weight, 2)
    ([0.0, 0.07, 0.0, 0.035, 0.0, 0.0], 0.7)
    """
    if len(own) < _LEAST_PARAMETERS:
        return np.clip(own, 0.0, highest), 1.0
    error = 1.0 / np.sqrt(counts)
    middle = float(own.mean())
    spread = float(((own - middle) ** 2).sum())
    by_chance = (len(own) - 3) * float((error**2).mean())
    weight = max(_LEAST_WEIGHT, 1.0 - by_chance / max(spread, by_chance))
    shrunk = middle + weight * (own - middle)
    return np.clip(np.maximum(shrunk, own - _FARTHEST * error), 0.0, highest), weight
