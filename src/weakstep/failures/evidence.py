"""How much a shape's score tells for an effect: the likelihood itself, not its normal shadow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from weakstep.failures.null_model import NullFit

EFFECT_SD = 0.8
"""Prior spread of a standardised shape's coefficient, on the logit scale."""
NODES = np.linspace(-8.0, 8.0, 17)
LARGEST = 8.0
SCORES = np.linspace(-LARGEST, LARGEST, 161)
SHRINK = 0.9
"""g / (1 + g), with g the prior variance of an effect over the variance of its estimate."""


@dataclass(frozen=True, eq=False)
class EvidenceTable:
    """
    Log evidence of each shape as a function of its score z.

    Attributes
    ----------
    values : array, shape (n_shapes, n_scores)
        Log Bayes factor against no effect, at SCORES.
    positive : array, shape (n_shapes,)
        Probability beforehand that a coefficient is positive; 1 for one-sided shapes.
    """

    values: np.ndarray
    positive: np.ndarray

    def at(self, z: np.ndarray) -> np.ndarray:
        """Return the log evidence of scores *z*, shape (n_shapes, k), by linear interpolation."""
        last = len(SCORES) - 1
        place = np.clip((z + LARGEST) * (last / (2.0 * LARGEST)), 0.0, last - 1e-3)
        left = place.astype(np.int32)
        place -= left
        left += (np.arange(len(z), dtype=np.int32) * len(SCORES))[:, None]
        flat = self.values.ravel()
        evidence = flat.take(left)
        left += 1
        evidence += place * (flat.take(left) - evidence)
        if max(z.max(), -z.min()) > LARGEST:
            beyond = np.abs(z) > LARGEST
            # Where the table ends the normal form goes on, so that stronger stays stronger.
            beyond &= (z > 0.0) | (self.positive[:, None] < 1.0)
            evidence[beyond] += 0.5 * SHRINK * (z[beyond] ** 2 - LARGEST**2)
        return np.asarray(evidence)


def likelihood_table(
    columns: np.ndarray, variance: np.ndarray, positive: np.ndarray, fit: NullFit
) -> EvidenceTable:
    r"""
    Tabulate what each possible score of a shape tells for an effect.

    Along a shape x (free of the null model and of strata) the log likelihood of coefficient b is

    .. math:: \ell(b) = b U - \sum_i m_i \left[\log\frac{1 + e^{\eta_i + b x_i}}{1 + e^{\eta_i}}
        - p_i b x_i\right],

    with U the score. Only U depends on the order of the residuals, the sum does not: so the exact
    evidence :math:`\log \int e^{\ell(b) / \phi} N(b; 0, 0.8^2)\,db`, tempered by the shape's own
    overdispersion :math:`\phi = \operatorname{Var}(U) / \sum_i w_i x_i^2`, is a function of
    :math:`z = U / \sqrt{\operatorname{Var}(U)}` alone. The normal form z^2 / 2 takes a few runs at
    the end of a shape that all failed for more than they are worth, and many good ones for less.

    Parameters
    ----------
    columns : array, shape (n_runs, n_shapes)
        Shapes times the square root of the weights, projected and centred.
    variance : array, shape (n_shapes,)
        Of their scores over re-orderings; positive.
    positive : array, shape (n_shapes,)
        Probability beforehand that a coefficient is positive: the normal prior's halves weigh
        2 positive and 2 (1 - positive). 1 makes it half-normal.
    fit : NullFit

    Returns
    -------
    EvidenceTable
    """
    information = (columns**2).sum(axis=0)
    phi = variance / np.maximum(information, 1e-12)
    per_node = np.sqrt(variance) / np.maximum(information, 1e-12)
    x = columns.astype(np.float32)
    x *= (fit.weights**-0.5).astype(np.float32)[:, None]
    x *= per_node.astype(np.float32)
    eta = np.log(fit.probability / (1.0 - fit.probability)).astype(np.float32)[:, None]
    chips = (fit.weights / (fit.probability * (1.0 - fit.probability))).astype(np.float32)
    plain, slope = chips @ _softplus(eta), (chips * fit.probability.astype(np.float32)) @ x
    cost = np.array(
        [chips @ _softplus(eta + np.float32(node) * x) - plain - node * slope for node in NODES]
    )
    # Never negative but for rounding: a convex function less its tangent.
    cost = np.maximum(cost, 0.0)
    coefficient = NODES[:, None] * per_node
    log_prior = -0.5 * (coefficient / EFFECT_SD) ** 2 - np.log(EFFECT_SD * np.sqrt(2.0 * np.pi))
    weight = np.exp(log_prior - cost / phi) * per_node * (NODES[1] - NODES[0])
    side = np.sign(NODES)[:, None]
    weight *= 1.0 + side * (2.0 * positive - 1.0)
    integral = weight.T @ np.exp(np.outer(NODES, SCORES))
    # Where the halves of the prior meet unequal the trapezoids lack f'(0) / 12 (Euler-Maclaurin).
    step = (NODES[1] - NODES[0]) / 6.0 * (2.0 * positive - 1.0)
    integral += (step * weight[len(NODES) // 2])[:, None] * SCORES
    values = np.log(np.maximum(integral, 1e-300))
    return EvidenceTable(values.astype(np.float32), positive)


def normal_evidence(z: np.ndarray, positive: np.ndarray) -> np.ndarray:
    """Return the log evidence of each shape for normal scores, up to a constant; shape as z."""
    evidence = 0.5 * SHRINK * z**2
    sided = positive != 0.5
    evidence[sided] += log_halves(np.sqrt(SHRINK) * z[sided], positive[sided, None])
    return np.asarray(evidence)


def log_halves(z: np.ndarray, positive: np.ndarray) -> np.ndarray:
    r"""
    Return what unequal halves of a symmetric prior add to the log evidence.

    :math:`\log\{2 [q \Phi(z) + (1 - q) \Phi(-z)]\}`, with q = *positive* and z the estimate over
    its standard deviation a posteriori; 0 for q = 1/2. Both arrays of shapes that broadcast.
    """
    from scipy.special import log_ndtr

    with np.errstate(divide="ignore"):
        up, down = np.log(positive), np.log1p(-positive)
    return np.asarray(np.log(2.0) + np.logaddexp(up + log_ndtr(z), down + log_ndtr(-z)))


def _softplus(x: np.ndarray) -> np.ndarray:
    """Return log(1 + exp(x)) without overflow, in the precision given."""
    return np.asarray(np.maximum(x, 0.0) + np.log(1.0 + np.exp(-np.abs(x))))
