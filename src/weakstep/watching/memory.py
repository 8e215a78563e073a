"""How far each value of a parameter goes with the one before, judged over all parameters."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

MEMORIES = np.arange(10) / 10.0
_SCATTERS = np.array([0.05, 0.1, 0.2])  # of memories about their middle
_NONE = 0.5  # chance beforehand that parameters have no memory
_ALONE = np.array([0.3, 0.6])  # share of parameters whose memory the others do not tell
_SLIGHT = 1e-3


def memory_logs(scores: ArrayLike, known: int) -> Floats:
    r"""
    How well each memory of `MEMORIES` fits values in time order, after each of the last ones.

    The restricted likelihood of a stationary first-order autoregression, mean and variance
    unknown: with :math:`T` the tridiagonal matrix of :math:`1, 1 + \phi^2, \dots, 1` and
    :math:`-\phi`, and :math:`S = y'Ty - (1'Ty)^2 / 1'T1`,

    .. math:: \ln L = \tfrac12 \ln (1 - \phi^2) - \tfrac12 \ln 1'T1 - \tfrac{n-1}2 \ln S.

    It carries neither the bias of the lag-1 correlation nor its normal law, both poor where the
    memory is long and values are few.

    Parameters
    ----------
    scores : array_like, shape (n_values, ...)
        At least 3 that differ; no NaN.
    known : int
        Values from which on likelihoods are told, at least 3.

    Returns
    -------
    array, shape (n_values - known + 1, n_memories, ...)
        Logarithms, after *known*, *known* + 1, ... values.

    References
    ----------
    D. A. Harville (1977), Maximum likelihood approaches to variance component estimation and to
    related problems, Journal of the American Statistical Association 72, 320-338 (restricted
    likelihood; from memory).

    Examples
    --------
    >>> logs = memory_logs([1.0, 2.0, 3.0, 4.0, 5.0, 4.0, 3.0, 2.0, 1.0], 9)
    >>> float(MEMORIES[logs[0].argmax()])
    0.9
    """
    y = np.asarray(scores, dtype=float)
    rest = tuple(1 for _ in y.shape[1:])
    memory = MEMORIES.reshape(-1, *rest)
    upto = slice(known - 1, len(y))
    follows = np.concatenate([np.zeros((1, *y.shape[1:])), y[1:] * y[:-1]])
    together, whole, total = (np.cumsum(a, axis=0)[upto, None] for a in (follows, y * y, y))
    last = y[upto, None]
    count = np.arange(known, len(y) + 1).reshape(-1, 1, *rest)
    squares = (1.0 + memory**2) * whole - memory**2 * (y[0] ** 2 + last**2)
    squares = squares - 2.0 * memory * together
    ones = 2.0 * (1.0 - memory) + (count - 2.0) * (1.0 - memory) ** 2
    ends = y[0] + last
    level = (1.0 - memory) * ends + (1.0 - memory) ** 2 * (total - ends)
    left = squares - level**2 / ones
    return np.asarray(0.5 * (np.log((1.0 - memory**2) / ones) - (count - 1.0) * np.log(left)))


def memories(logs: ArrayLike) -> Floats:
    r"""
    How likely each memory is, of each parameter, in the light of all.

    Beforehand either no parameter has any, or their memories scatter normally about one middle;
    three or six parameters in ten lie apart, anywhere. Middle, scatter and share are averaged over
    as all parameters tell them (hierarchical Bayes).

    Parameters
    ----------
    logs : array_like, shape (n_parameters, n_memories)
        Of `memory_logs`.

    Returns
    -------
    array, shape (n_parameters, n_memories)
        Each row sums to 1.

    References
    ----------
    C. N. Morris (1983), Parametric empirical Bayes inference: theory and applications, Journal of
    the American Statistical Association 78, 47-55 (from memory).

    Examples
    --------
    >>> calm = np.random.default_rng(1).normal(size=(900, 4))
    >>> calm[1:, 3] += 2.0 * calm[:-1, 3]
    >>> MEMORIES[memories(memory_logs(calm, 900)[0].T).argmax(axis=1)].tolist()
    [0.0, 0.0, 0.0, 0.4]
    """
    fits = np.asarray(logs, dtype=float)
    if not len(fits):
        return np.zeros(fits.shape)
    likelihood = np.exp(fits - fits.max(axis=1, keepdims=True))
    laws = np.exp(-0.5 * ((MEMORIES - MEMORIES[:, None, None]) / _SCATTERS[:, None]) ** 2)
    laws = np.concatenate([np.eye(1, len(MEMORIES)), laws.reshape(-1, len(MEMORIES))])
    laws /= laws.sum(axis=1, keepdims=True)
    beforehand = np.full(len(laws), (1.0 - _NONE) / (len(laws) - 1.0))
    beforehand[0] = _NONE
    apart = _ALONE[:, None, None]
    laws = ((1.0 - apart) * laws + apart / len(MEMORIES)).reshape(-1, len(MEMORIES))
    beforehand = np.tile(beforehand, len(_ALONE))
    marginal = laws @ likelihood.T  # laws x parameters
    weight = np.log(marginal).sum(axis=1) + np.log(beforehand)
    weight = np.exp(weight - weight.max())
    prior = (weight[:, None] / weight.sum() / marginal).T @ laws
    posterior = likelihood * prior
    return np.asarray(posterior / posterior.sum(axis=1, keepdims=True))


def likely(chances: ArrayLike) -> NDArray[np.bool_]:
    """
    Tell the memories that a baseline leaves open: of chances of 1 in 1000 or more.

    The others are left out for good: to values of a large lasting change, a long memory is always
    the best explanation.

    Parameters
    ----------
    chances : array_like, shape (n_memories, ...)

    Returns
    -------
    array of bool, of that shape

    Examples
    --------
    >>> likely([0.9, 0.0995, 0.0005]).tolist()
    [True, True, False]
    """
    return np.asarray(np.asarray(chances) >= _SLIGHT)


def shares_of(logs: Floats) -> Floats:
    """
    Turn logarithms of chances, up to a constant, into chances over the second axis.

    Examples
    --------
    >>> shares_of(np.log([[1.0, 3.0]])).tolist()
    [[0.25, 0.75]]
    """
    chances = np.exp(logs - logs.max(axis=1, keepdims=True))
    return np.asarray(chances / chances.sum(axis=1, keepdims=True))
