"""How much each value resembles the one before, parameters lending each other strength."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

HIGHEST_PHI = 0.8
_STEP = 0.05  # between correlations that are thought possible
# Before any log is seen a parameter's values are independent with weight 1, and resemble their
# neighbours, to whatever degree, with weight 1: two parameters' worth of belief.
_INDEPENDENT, _ALIKE = 1.0, 1.0
_ROUNDS = 30  # of estimating how common each correlation is
# Standard errors of the correlation, once a fitted change is taken out, relative to
# sqrt((1 - phi^2) / n): simulated for phi = 0 to 0.8.
_WIDER = 1.07


@dataclass(frozen=True, eq=False)
class Likeness:
    """
    Correlation of neighbours in each parameter, as far as the log can tell it.

    Attributes
    ----------
    possible : array, shape (n_possible,)
        Correlations from 0 to 0.8.
    chances : array, shape (n_parameters, n_possible)
        How likely each is; rows sum to 1.
    """

    possible: Floats
    chances: Floats

    @property
    def expected(self) -> Floats:
        """Expected correlation of each parameter; shape (n_parameters,)."""
        mean: Floats = self.chances @ self.possible
        return mean

    def draws(self, count: int, seed: int) -> Floats:
        """
        Draw correlations that each parameter may have.

        Parameters
        ----------
        count, seed : int

        Returns
        -------
        array, shape (n_parameters, count)
        """
        chance = np.random.default_rng([seed, count]).random((len(self.chances), count))
        reached = np.cumsum(self.chances, axis=1)
        place = [np.searchsorted(row, one) for row, one in zip(reached, chance, strict=True)]
        last = len(self.possible) - 1
        drawn: Floats = self.possible[np.minimum(np.array(place).reshape(chance.shape), last)]
        return drawn


def shared_likeness(own: Floats, counts: Floats) -> Likeness:
    r"""
    Weigh each parameter's lag-1 correlation with how common such correlations are in the log.

    An own correlation is taken as normal about the true one with standard deviation
    :math:`1.07 \sqrt{(1 - \phi^2) / n}`. How common each of 0, 0.05 ... 0.8 is among the parameters
    is estimated from all of them (expectation and maximisation, from a prior of two parameters'
    weight, half of it on 0), and combined with each parameter's own.

    Parameters
    ----------
    own : array, shape (n_parameters,)
        Correlations, corrected for what a fitted change costs, from -1 to 1.
    counts : array, shape (n_parameters,)
        Values of each.

    Returns
    -------
    Likeness

    References
    ----------
    H. Robbins (1956), An empirical Bayes approach to statistics, Proceedings of the Third Berkeley
    Symposium 1, 157-163. N. Laird (1978), Nonparametric maximum likelihood estimation of a mixing
    distribution, Journal of the American Statistical Association 73, 805-811.

    Examples
    --------
    >>> own = np.array([0.0, 0.1, -0.1, 0.05, -0.05, 0.6])
    >>> shared_likeness(own, np.full(6, 150.0)).expected.round(1).tolist()
    [0.0, 0.0, 0.0, 0.0, 0.0, 0.6]
    """
    possible = np.arange(0.0, HIGHEST_PHI + _STEP / 2.0, _STEP)
    error = _WIDER * np.sqrt((1.0 - possible**2) / np.maximum(counts, 1.0)[:, None])
    capped = np.minimum(own, HIGHEST_PHI)[:, None]
    log_likely = -0.5 * ((capped - possible) / error) ** 2 - np.log(error)
    likely = np.exp(log_likely - log_likely.max(axis=1, keepdims=True))
    belief = np.full(len(possible), _ALIKE / (len(possible) - 1))
    belief[0] = _INDEPENDENT
    common = belief / belief.sum()
    chances = likely * common
    for _ in range(_ROUNDS):
        chances = likely * common
        chances /= chances.sum(axis=1, keepdims=True)
        common = (chances.sum(axis=0) + belief) / (len(own) + belief.sum())
    return Likeness(possible, chances)
