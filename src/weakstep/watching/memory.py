"""How far each value of a parameter goes with the one before, judged over all parameters."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

MOST_MEMORY = 0.9
_GRID = np.linspace(-0.5, MOST_MEMORY, 57)
_MIDDLES = np.linspace(-0.1, 0.7, 33)
_SPREADS = np.array([0.012, 0.02, 0.04, 0.06, 0.09, 0.12, 0.16, 0.2, 0.3])
_APART = 0.2  # parameters whose memory is unlike that of the others
_COST = 10.0  # log chance of a high sum that a wrong memory multiplies
_HALVINGS = 40


def neighbours_correlation(values: ArrayLike) -> float:
    """
    Lag-1 correlation of the normal scores of values' ranks; 0 when all are equal.

    Parameters
    ----------
    values : array_like, shape (n_values,)
        In time order; no NaN.

    Examples
    --------
    >>> neighbours_correlation([1.0, 2.0] * 20) < -0.9
    True
    """
    from weakstep.charts.fitness import lag_one_correlation
    from weakstep.watching.scores import baseline_scores

    return lag_one_correlation(baseline_scores(values, normal=False))


def memories(correlations: ArrayLike, counts: ArrayLike) -> Floats:
    r"""
    Memory to take out of each parameter's values, so that false alarms keep their chance.

    The lag-1 correlations *r*, freed of their bias :math:`-(1 + 3r)/n`, are read as normal
    with variance :math:`(1 - \phi^2)/n` about memories :math:`\phi` that, for eight parameters
    in ten, scatter about one middle; middle and scatter are drawn from all parameters (empirical
    Bayes), the others may lie anywhere. A memory taken too small makes the sums' chances grow much
    faster than one taken too large makes them shrink: with :math:`g = (1+\phi)/(1-\phi)` the long
    run variance and :math:`e^{-c}` the chance of a high sum, the memory returned solves

    .. math:: E \exp(-c\, g^* / g) = e^{-c}

    over what is left open about :math:`\phi`; *c* is 10.

    Parameters
    ----------
    correlations : array_like, shape (n_parameters,)
        Of `neighbours_correlation`.
    counts : array_like, shape (n_parameters,)
        Values behind each.

    Returns
    -------
    array, shape (n_parameters,)
        From 0 to 0.9.

    References
    ----------
    M. G. Kendall (1954), Note on bias in the estimation of autocorrelation, Biometrika 41,
    403-404. C. N. Morris (1983), Parametric empirical Bayes inference: theory and applications,
    Journal of the American Statistical Association 78, 47-55 (from memory).

    Examples
    --------
    >>> memories([0.02, -0.05, 0.03, 0.6], [900] * 4).round(1).tolist()
    [0.0, 0.0, 0.0, 0.6]
    """
    r, n = np.asarray(correlations, dtype=float), np.asarray(counts, dtype=float)
    if not len(r):
        return np.zeros(0)
    centred = np.clip(r + (1.0 + 3.0 * r) / n, _GRID[0], _GRID[-1])
    precision = n[:, None] / (1.0 - _GRID**2)
    likelihood = np.sqrt(precision) * np.exp(-0.5 * precision * (centred[:, None] - _GRID) ** 2)
    posterior = _shared(likelihood)
    return np.maximum(0.0, _safe(posterior))


def _shared(likelihood: Floats) -> Floats:
    """Posterior of each memory on the grid, shape of *likelihood*, middle and scatter averaged."""
    prior = np.exp(-0.5 * ((_GRID - _MIDDLES[:, None, None]) / _SPREADS[:, None]) ** 2)
    prior /= prior.sum(axis=-1, keepdims=True)
    prior = ((1.0 - _APART) * prior + _APART / len(_GRID)).reshape(-1, len(_GRID))
    marginal = likelihood @ prior.T
    weight = np.log(marginal).sum(axis=0)
    weight = np.exp(weight - weight.max())
    posterior = likelihood * ((weight / weight.sum() / marginal) @ prior)
    return np.asarray(posterior / posterior.sum(axis=1, keepdims=True))


def _safe(posterior: Floats) -> Floats:
    long_run = (1.0 + _GRID) / (1.0 - _GRID)
    low, high = np.full(len(posterior), long_run[0]), np.full(len(posterior), long_run[-1])
    for _ in range(_HALVINGS):
        middle = np.sqrt(low * high)
        chance = (posterior * np.exp(-_COST * middle[:, None] / long_run)).sum(axis=1)
        over = chance > np.exp(-_COST)
        low, high = np.where(over, middle, low), np.where(over, high, middle)
    return np.asarray((high - 1.0) / (high + 1.0))
