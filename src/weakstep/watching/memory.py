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
_APART = np.array([0.01, 0.03, 0.1, 0.3, 0.6])  # share of parameters unlike the others
_COST = 11.0  # log chance of a high sum that a wrong memory multiplies
_HALVINGS = 40


def memory_likelihood(values: ArrayLike) -> Floats:
    r"""
    How well each memory of a grid fits the normal scores of values' ranks, in time order.

    The restricted likelihood of a stationary first-order autoregression, mean and variance
    unknown: with :math:`T` the tridiagonal matrix of :math:`1, 1 + \phi^2, \dots, 1` and
    :math:`-\phi`, and :math:`S = y'Ty - (1'Ty)^2 / 1'T1`,

    .. math:: \ln L = \tfrac12 \ln (1 - \phi^2) - \tfrac12 \ln 1'T1 - \tfrac{n-1}2 \ln S.

    It carries neither the bias of the lag-1 correlation nor its normal law, both poor where the
    memory is long and values are few.

    Parameters
    ----------
    values : array_like, shape (n_values,)
        At least 3; no NaN.

    Returns
    -------
    array, shape (n_grid,)
        1 for the best memory of the grid, from -0.5 to 0.9; all 1 when all values are equal.

    References
    ----------
    D. A. Harville (1977), Maximum likelihood approaches to variance component estimation and to
    related problems, Journal of the American Statistical Association 72, 320-338 (restricted
    likelihood; from memory).

    Examples
    --------
    >>> likelihood = memory_likelihood([1.0, 2.0] * 20)
    >>> bool(likelihood.argmax() == 0)
    True
    """
    from weakstep.watching.scores import baseline_scores

    y = baseline_scores(values, normal=False)
    if not y.any():
        return np.ones(len(_GRID))
    ends, inner = y[0] + y[-1], y[1:-1].sum()
    squares = (1.0 + _GRID**2) * (y @ y) - _GRID**2 * (y[0] ** 2 + y[-1] ** 2)
    squares -= 2.0 * _GRID * (y[1:] @ y[:-1])
    ones = 2.0 * (1.0 - _GRID) + (len(y) - 2.0) * (1.0 - _GRID) ** 2
    level = (1.0 - _GRID) * ends + (1.0 - _GRID) ** 2 * inner
    left = squares - level**2 / ones
    logs = np.log((1.0 - _GRID**2) / ones) - (len(y) - 1.0) * np.log(left)
    return np.asarray(np.exp((logs - logs.max()) / 2.0))


def memories(likelihoods: ArrayLike) -> Floats:
    r"""
    Memory to take out of each parameter's values, so that false alarms keep their chance.

    Memories scatter about one middle, but for a share of the parameters that may lie anywhere;
    middle, scatter and share are drawn from all parameters (empirical Bayes), scatter and share
    being beforehand the likelier the smaller, in inverse proportion. A memory taken too
    small makes the sums' chances grow much faster than one taken too large makes them shrink: with
    :math:`g = (1+\phi)/(1-\phi)` the long run variance and :math:`e^{-c}` the chance of a high
    sum, the memory returned solves

    .. math:: E \exp(-c\, g^* / g) = e^{-c}

    over what is left open about :math:`\phi`; *c* is 11.

    Parameters
    ----------
    likelihoods : array_like, shape (n_parameters, n_grid)
        Of `memory_likelihood`.

    Returns
    -------
    array, shape (n_parameters,)
        From 0 to 0.9.

    References
    ----------
    C. N. Morris (1983), Parametric empirical Bayes inference: theory and applications, Journal of
    the American Statistical Association 78, 47-55 (from memory).

    Examples
    --------
    >>> calm = np.random.default_rng(1).normal(size=(4, 900))
    >>> calm[3, 1:] += 2.0 * calm[3, :-1]
    >>> memories([memory_likelihood(row) for row in calm]).round(1).tolist()
    [0.0, 0.0, 0.0, 0.4]
    """
    likelihood = np.asarray(likelihoods, dtype=float)
    if not len(likelihood):
        return np.zeros(0)
    return np.maximum(0.0, _safe(_shared(likelihood)))


def _shared(likelihood: Floats) -> Floats:
    """Posterior of each memory on the grid, shape of *likelihood*, its law averaged over."""
    laws = np.exp(-0.5 * ((_GRID - _MIDDLES[:, None, None]) / _SPREADS[:, None]) ** 2)
    laws = (laws / laws.sum(axis=-1, keepdims=True)).reshape(-1, len(_GRID))
    apart = _APART[:, None, None]
    anywhere = likelihood.mean(axis=1)
    marginal = (1.0 - apart) * (laws @ likelihood.T) + apart * anywhere
    beforehand = np.outer(1.0 / _APART, np.tile(1.0 / _SPREADS, len(_MIDDLES)))
    weight = np.log(marginal).sum(axis=-1) + np.log(beforehand)
    weight = np.exp(weight - weight.max())
    ratio = (weight / weight.sum())[..., None] / marginal  # shares x laws x parameters
    prior = ((1.0 - apart) * ratio).sum(axis=0).T @ laws
    prior += (apart * ratio).sum(axis=(0, 1))[:, None] / len(_GRID)
    posterior = likelihood * prior
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
