"""How strong each shape of a factor may be: penalised fits, their evidence and draws."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from weakstep.failures.evidence import log_halves
from weakstep.failures.null_model import Background, NullFit, fit_null, logistic

EFFECT_SDS = (2.0, 5.0)
SD_WEIGHTS = (0.85, 0.15)
MILD = 0.5
WIDER = 1.3
"""Spread of the draws over Laplace's: true curves hit none of the shapes exactly. With it, the 90 %
intervals of shares cover as they say on simulated semesters (tests/benchmark)."""
GRID = np.linspace(-6.0, 6.0, 61)
STEPS = 40
LARGEST_STEP = 2.0


@dataclass(frozen=True, eq=False)
class ShapeFits:
    """
    Penalised logit fits of several shapes, one at a time beside the null model.

    Attributes
    ----------
    shape : array of int, shape (n_fits,)
        Which shape each fit is of: every shape is fitted under each prior spread.
    coefficients : array, shape (n_fits, 1 + n_background)
        The shape's own coefficient first.
    roots : array, shape (n_fits, 1 + n_background, 1 + n_background)
        Lower Cholesky factors of the Laplace covariance.
    log_bayes : array, shape (n_fits,)
        Log Bayes factor of each fit against the null model.
    prior : array, shape (n_fits,)
        Probability of each fit beforehand, given an effect.
    sd : array, shape (n_fits,)
        Spread of its coefficient's prior.
    positive : array, shape (n_fits,)
        Probability beforehand that its coefficient is positive; 1 for a half-normal prior.
    cumulated : array, shape (n_fits, n_grid), or None
        Distribution function of the shape's coefficient at GRID standard deviations from its
        estimate; None where the normal one is taken.
    """

    shape: np.ndarray
    coefficients: np.ndarray
    roots: np.ndarray
    log_bayes: np.ndarray
    prior: np.ndarray
    sd: np.ndarray
    positive: np.ndarray
    cumulated: np.ndarray | None = None

    @property
    def log_bayes_factor(self) -> float:
        """Log Bayes factor of the factor, its shapes being as probable beforehand as `prior`."""
        top = float(self.log_bayes.max())
        return top + float(np.log(self.prior @ np.exp(self.log_bayes - top)))

    def belief(self, weights: np.ndarray) -> float:
        r"""
        Log Bayes factor of the factor for a mild effect, prior :math:`N(0, 0.5^2)`: orders factors.

        Worked out from the fits under the first prior spread, whose likelihoods are taken as
        normal: with estimate b and variance v of the likelihood's peak, moving the spread from
        :math:`\sigma` to 0.5 adds :math:`\tfrac12 \log\frac{v + \sigma^2}{v + 0.25}
        + \tfrac{b^2}{2} (\tfrac{1}{v + \sigma^2} - \tfrac{1}{v + 0.25})`.

        Parameters
        ----------
        weights : array, shape (n_shapes,)
            How probable each shape is beforehand, up to a factor.

        Returns
        -------
        float
        """
        wide = self.sd == self.sd[0]
        sd, effect, root = self.sd[wide], self.coefficients[wide, 0], self.roots[wide, 0, 0]
        positive = self.positive[wide]
        free = self.log_bayes[wide] - log_halves(effect / root, positive)
        precision = np.maximum(root**-2 - sd**-2, 1e-6)
        variance, estimate = 1.0 / precision, effect * root**-2 / precision
        before, after = variance + sd**2, variance + MILD**2
        free += 0.5 * np.log(before / after) + 0.5 * estimate**2 * (1.0 / before - 1.0 / after)
        narrow = np.sqrt(1.0 / (precision + MILD**-2))
        drawn_in = estimate * precision * narrow**2
        mild = free + log_halves(drawn_in / narrow, positive)
        top = float(mild.max())
        return top + float(np.log(weights @ np.exp(mild - top) / weights.sum()))

    @property
    def weights(self) -> np.ndarray:
        """Probability of each fit, given that the factor has an effect."""
        raw = self.prior * np.exp(self.log_bayes - self.log_bayes.max())
        return np.asarray(raw / raw.sum())


def tempered_null(
    background: Background, failed: np.ndarray, tested: np.ndarray, phi: float
) -> NullFit:
    """Fit the null model to counts divided by the overdispersion *phi*."""
    return fit_null(background, failed / phi, tested / phi)


def fit_shapes(
    null: NullFit,
    columns: np.ndarray,
    positive: np.ndarray,
    failed: np.ndarray,
    tested: np.ndarray,
    weights: np.ndarray | None = None,
    sds: tuple[float, ...] = EFFECT_SDS,
    sd_weights: tuple[float, ...] = SD_WEIGHTS,
) -> ShapeFits:
    r"""
    Fit each shape beside the null model and weigh it against "no effect".

    The coefficient of a standardised shape has prior :math:`0.85\,N(0, 2^2) + 0.15\,N(0, 5^2)`
    on the logit scale, its halves weighed by `positive`: most causes are mild, but one that
    separates good from failed nearly completely is not talked down. All fits take their Newton
    steps together. The marginal likelihood is Laplace's:
    :math:`\ell(\hat b) + \tfrac12 \log|\Lambda| - \tfrac12 \log|H|`.

    Parameters
    ----------
    null : NullFit
        Of the same counts.
    columns : array, shape (n_runs, n_shapes)
    positive : array, shape (n_shapes,)
        Probability beforehand that an effect is positive; 1 makes its prior half-normal.
    failed, tested : array, shape (n_runs,)
        Divided by the overdispersion, so that the likelihood is as flat as the runs deserve.
    weights : array, shape (n_shapes,), optional
        How probable each shape is beforehand, up to a factor; alike if left out.
    sds, sd_weights : tuple of float
        Spreads of the prior's parts, and their weights.

    Returns
    -------
    ShapeFits

    References
    ----------
    Kass, R. E. & Raftery, A. E. (1995), J. Am. Stat. Assoc. 90, 773-795, section 4.1.
    """
    z = null.background.columns
    shape = np.tile(np.arange(columns.shape[1]), len(sds))
    design = np.empty((len(shape), len(z), 1 + z.shape[1]))
    design[:, :, 0] = columns.T[shape]
    design[:, :, 1:] = z
    precision = np.tile(np.concatenate([[0.0], null.background.precision]), (len(shape), 1))
    spread = np.repeat(np.array(sds), columns.shape[1])
    precision[:, 0] = spread**-2.0
    start = np.tile(np.concatenate([[0.0], null.coefficients]), (len(shape), 1))
    coefficients, information = _newton(design, precision, start, failed, tested)
    eta = np.einsum("snq,sq->sn", design, coefficients)
    value = (failed * eta - tested * np.logaddexp(0.0, eta)).sum(axis=1)
    value -= 0.5 * (precision * coefficients**2).sum(axis=1)
    value += 0.5 * (np.log(precision).sum(axis=1) - np.linalg.slogdet(information)[1])
    roots = np.linalg.cholesky(np.linalg.inv(information))
    likely = positive[shape]
    log_bayes = value - null.log_evidence + log_halves(coefficients[:, 0] / roots[:, 0, 0], likely)
    weights = np.ones(columns.shape[1]) if weights is None else weights
    prior = np.outer(sd_weights, weights / weights.sum()).ravel()
    return ShapeFits(shape, coefficients, roots, log_bayes, prior, spread, likely)


def _newton(
    design: np.ndarray,
    precision: np.ndarray,
    coefficients: np.ndarray,
    failed: np.ndarray,
    tested: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """Return coefficients and information of all penalised fits, stepped together."""
    for _ in range(STEPS):
        probability = logistic(np.einsum("snq,sq->sn", design, coefficients))
        weights = tested * probability * (1.0 - probability)
        information = design.transpose(0, 2, 1) @ (design * weights[:, :, None])
        information += precision[:, :, None] * np.eye(precision.shape[1])
        residual = failed - tested * probability
        gradient = np.einsum("snq,sn->sq", design, residual) - precision * coefficients
        step = np.linalg.solve(information, gradient[:, :, None])[:, :, 0]
        coefficients = coefficients + np.clip(step, -LARGEST_STEP, LARGEST_STEP)
        if np.abs(step).max() < 1e-5:
            break
    return coefficients, information


def draw_effects(
    fits: ShapeFits, draws: int, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """
    Draw coefficients given that the factor has an effect.

    With F the distribution function of a shape's coefficient under a symmetric prior, its halves
    below and above 0 are drawn as often as :math:`(1 - q) F(0)` is to :math:`q (1 - F(0))`, q being
    how probable a positive one is beforehand (`positive`): as `log_halves` weighs the fits.

    Parameters
    ----------
    fits : ShapeFits
    draws : int
    rng : Generator

    Returns
    -------
    shape : array of int, shape (draws,)
        Which shape each draw has, in proportion to the weights.
    coefficients : array, shape (draws, 1 + n_background)
    """
    from scipy.special import ndtr, ndtri

    ends = np.cumsum(fits.weights)
    # Evenly spread instead of random numbers: the shares of the shapes then have no noise.
    places = (np.arange(draws) + 0.5) / draws
    fit = np.minimum(np.searchsorted(ends, places), len(ends) - 1)
    normal = rng.standard_normal((draws, fits.coefficients.shape[1]))
    effect, sd = fits.coefficients[fit, 0], WIDER * fits.roots[fit, 0, 0]
    zero, uniform, likely = -effect / sd, ndtr(normal[:, 0]), fits.positive[fit]
    if fits.cumulated is None:
        at = _by_halves(uniform, ndtr(zero), likely)
        own = ndtri(np.clip(at, 1e-12, 1.0 - 1e-12))
    else:
        tables = fits.cumulated[fit]
        below = [np.interp(value, GRID, one) for value, one in zip(zero, tables, strict=True)]
        at = _by_halves(uniform, np.array(below), likely)
        own = np.array([np.interp(place, one, GRID) for place, one in zip(at, tables, strict=True)])
    # A one-sided effect far from its estimate may be lost in rounding; it is never negative.
    normal[:, 0] = np.where(likely == 1.0, np.maximum(own, zero), own)
    moved = WIDER * np.einsum("dqr,dr->dq", fits.roots[fit], normal)
    return fits.shape[fit], fits.coefficients[fit] + moved


def _by_halves(uniform: np.ndarray, below: np.ndarray, positive: np.ndarray) -> np.ndarray:
    """Turn uniform numbers into places of a distribution whose halves are reweighed, (draws,)."""
    negative = (1.0 - positive) * below
    share = negative / np.maximum(negative + positive * (1.0 - below), 1e-300)
    low = below * uniform / np.maximum(share, 1e-300)
    high = below + (1.0 - below) * (uniform - share) / np.maximum(1.0 - share, 1e-300)
    return np.asarray(np.where(uniform < share, low, high))


def with_skew(
    fits: ShapeFits, null: NullFit, columns: np.ndarray, failed: np.ndarray, tested: np.ndarray
) -> ShapeFits:
    """
    Tabulate how each shape's coefficient is distributed, along the ridge of its posterior.

    Where good and failed are nearly separated the posterior is far from normal: it falls steeply
    towards no effect and slowly towards a larger one. The other coefficients follow as in Laplace's
    approximation.

    Parameters
    ----------
    fits : ShapeFits
        Of these columns and counts, beside *null*.
    null : NullFit
    columns : array, shape (n_runs, n_shapes)
    failed, tested : array, shape (n_runs,)
        As they were fitted.

    Returns
    -------
    ShapeFits
        With `cumulated`.
    """
    from dataclasses import replace

    path = fits.roots[:, :, 0] * WIDER
    precision = null.background.precision
    table = np.zeros((len(path), len(GRID)))
    for i, shape in enumerate(fits.shape):
        design = np.column_stack([columns[:, shape], null.background.columns])
        beta = fits.coefficients[i] + GRID[:, None] * path[i]
        eta = beta @ design.T
        value = (failed * eta - tested * np.logaddexp(0.0, eta)).sum(axis=1)
        value -= 0.5 * ((beta[:, 0] / fits.sd[i]) ** 2 + (precision * beta[:, 1:] ** 2).sum(axis=1))
        density = np.exp((value - value.max()) / WIDER**2)
        steps = 0.5 * (density[1:] + density[:-1])
        table[i, 1:] = np.cumsum(steps) / steps.sum()
    return replace(fits, cumulated=table)


def draw_null(null: NullFit, draws: int, rng: np.random.Generator) -> np.ndarray:
    """Draw coefficients of the null model from its Laplace posterior, shape (draws, n_columns)."""
    root = np.linalg.cholesky(null.inverse)
    normal = rng.standard_normal((draws, len(null.coefficients)))
    return np.asarray(null.coefficients + normal @ root.T)
