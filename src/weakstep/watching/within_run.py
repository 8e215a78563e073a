"""What a baseline leaves open: how often chips of a family fail, and how far together in a run."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Counts = NDArray[np.int_]

_FAILED_BEFOREHAND = 0.6  # chips; 0.5 is the law of Jeffreys, 1 that of Clopper and Pearson
_USUAL = 0.2  # mean correlation beforehand
_CORRELATIONS = np.linspace(0.0, 0.6, 61)
_UNLIKELY = 12.0  # log likelihood below the best, from which on a correlation is left out
_NODES, _FROM, _TO = 8, -2.5, 4.5  # normal scores of rates: high ones are what signals
_LEAST, _MOST = 1e-12, 1.0 - 1e-9


@dataclass(frozen=True, eq=False)
class OpenRates:
    """
    Failure rates and correlations that a baseline leaves open, with what each weighs.

    Attributes
    ----------
    rates, correlations, weights : array, shape (n_nodes,)
        The weights add up to 1.
    """

    rates: Floats
    correlations: Floats
    weights: Floats


def counts_law(rates: Floats, size: int, correlations: Floats) -> Floats:
    r"""
    Chances of 0 to *size* failed chips of a run, beta-binomial.

    .. math::
        P(k) = \binom{m}{k} \prod_{i<k} (p + i\theta) \prod_{i<m-k} (1 - p + i\theta)
               \Big/ \prod_{i<m} (1 + i\theta), \qquad \theta = \frac{\rho}{1 - \rho}

    Parameters
    ----------
    rates : array, shape (n_rates,)
        :math:`p`, each between 0 and 1.
    size : int
        :math:`m`, chips of the run.
    correlations : array, shape (n_rates,)
        :math:`\rho`, of chips within it, from 0 to below 1.

    Returns
    -------
    array, shape (n_rates, size + 1)

    References
    ----------
    J. G. Skellam (1948), A probability distribution derived from the binomial distribution by
    regarding the probability of success as variable between the sets of trials, Journal of the
    Royal Statistical Society B 10, 257-261 (from memory).

    Examples
    --------
    >>> counts_law(np.array([0.5, 0.5]), 2, np.array([0.0, 0.5])).round(9).tolist()
    [[0.25, 0.5, 0.25], [0.375, 0.25, 0.375]]
    """
    from scipy.special import gammaln

    bad = np.arange(size + 1)
    ways = gammaln(size + 1) - gammaln(bad + 1) - gammaln(size - bad + 1)
    p, theta = rates[:, None], (correlations / (1.0 - correlations))[:, None]
    steps = bad[:-1] * theta
    lost, good, both = (
        np.pad(np.log(base + steps).cumsum(axis=1), ((0, 0), (1, 0))) for base in (p, 1.0 - p, 1.0)
    )
    return np.asarray(np.exp(ways + lost + good[:, ::-1] - both[:, -1:]))


def open_rates(failed: Counts, tested: Counts) -> OpenRates:
    r"""
    Return the rates and correlations that the counts of a baseline leave open.

    The weights are those of Bayes' rule: the beta-binomial likelihood of the counts times the law
    beforehand, :math:`p^{0.6 - 1} e^{-\rho / 0.2}`, :math:`\rho` up to 0.6. Limits whose chance is
    right on average over them are right on average over baselines, the rate and the correlation
    drawn from that law. The exponent lies between 0.5, the law of Jeffreys, and 1, whose quantiles
    are the upper limits of Clopper and Pearson: of these three it comes nearest to limits that are
    right at each rate from 0.03 on, whatever was drawn (`tests/benchmark/watch_failures.py`). A
    family that never failed keeps rates up to about 2 / (chips tested), and is not held to be safe.

    Sums over rates are taken at 8 normal scores from -2.5 to 4.5 of the beta law of the counts
    divided by the design effect, those over correlations at 8 places where they are likely. They
    come within 3 % of those at many times as many.

    Parameters
    ----------
    failed, tested : array of int, shape (n_runs,)
        Of the baseline; at least one chip tested.

    Returns
    -------
    OpenRates
        64 nodes; 8 with correlation 0 when no run has two chips.

    References
    ----------
    H. Jeffreys (1946), An invariant form for the prior probability in estimation problems,
    Proceedings of the Royal Society A 186, 453-461. C. J. Clopper and E. S. Pearson (1934), The
    use of confidence or fiducial limits illustrated in the case of the binomial, Biometrika 26,
    404-413.

    Examples
    --------
    >>> apart, together = np.tile([1, 1, 1, 0], 200), np.tile([3, 0, 0, 0], 200)
    >>> found = [open_rates(failed, np.full(800, 3)) for failed in (apart, together)]
    >>> [round(float(one.weights @ one.correlations), 2) for one in found]
    [0.0, 0.6]
    >>> round(float(found[0].weights @ found[0].rates), 2)
    0.25
    """
    from scipy.special import betaincinv, betaln, ndtr

    sizes, lost, made = tested[tested > 0], float(failed.sum()), float(tested.sum())
    likely = _Likelihood(failed, tested)
    places, weights = np.polynomial.legendre.leggauss(_NODES)
    correlations, shares = _likely_correlations(likely, lost, made, places, weights)
    effect = 1.0 + ((sizes.astype(float) ** 2).sum() / made - 1.0) * correlations[:, None]
    a, b = lost / effect + _FAILED_BEFOREHAND, (made - lost) / effect + 1.0
    normal = (_FROM + _TO) / 2.0 + (_TO - _FROM) / 2.0 * places
    rates = np.clip(betaincinv(a, b, ndtr(normal)), _LEAST, _MOST)
    # Of the beta law only the places are used: dividing by its density leaves Bayes' weights.
    density = (a - 1.0) * np.log(rates) + (b - 1.0) * np.log1p(-rates) - betaln(a, b)
    logs = (_FAILED_BEFOREHAND - 1.0) * np.log(rates) - density - normal**2 / 2.0
    flat = rates.ravel(), np.repeat(correlations, _NODES)
    logs = logs + likely(*flat).reshape(rates.shape)
    found = shares[:, None] * weights * np.exp(logs - logs.max())
    return OpenRates(*flat, np.asarray(found / found.sum()).ravel())


def _likely_correlations(
    likely: _Likelihood, lost: float, made: float, places: Floats, weights: Floats
) -> tuple[Floats, Floats]:
    """Places among the correlations that the counts leave likely, and their weights beforehand."""
    if likely.largest < 2:
        return np.zeros(1), np.ones(1)
    rate = np.full(len(_CORRELATIONS), (lost + _FAILED_BEFOREHAND) / (made + 1.0))
    logs = likely(rate, _CORRELATIONS) - _CORRELATIONS / _USUAL
    some = np.flatnonzero(logs > logs.max() - _UNLIKELY)
    low = _CORRELATIONS[max(0, some[0] - 1)]
    high = _CORRELATIONS[min(len(logs) - 1, some[-1] + 1)]
    found = np.asarray((low + high) / 2.0 + (high - low) / 2.0 * places)
    return found, np.asarray(weights * np.exp(-found / _USUAL))


class _Likelihood:
    """Log likelihood of the counts at any rates and correlations."""

    def __init__(self, failed: Counts, tested: Counts) -> None:
        self._seen = {
            int(size): np.bincount(failed[tested == size], minlength=int(size) + 1)
            for size in np.unique(tested[tested > 0])
        }
        self.largest = max(self._seen)

    def __call__(self, rates: Floats, correlations: Floats) -> Floats:
        """Return it for each pair, shape (n_pairs,)."""
        logs = np.zeros(len(rates))
        for size, counts in self._seen.items():
            laws = counts_law(rates, size, correlations)
            logs += np.log(np.maximum(laws, 1e-300)) @ counts
        return logs
