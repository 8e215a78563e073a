"""Preventable shares."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import norm

from weakstep.failures.belief import belief_in
from weakstep.failures.candidates import gather
from weakstep.failures.family import FamilyEffects
from weakstep.failures.links import Link
from weakstep.failures.null_model import fit_null, logistic, operator_background
from weakstep.failures.posterior import GRID, WIDER, draw_effects, fit_shapes, with_skew
from weakstep.failures.shares import Draws, mixture_quantiles


def claimed(factor: int, alike: tuple[int, ...] = ()) -> Link:
    """Return the link of a factor that the screen claimed."""
    return Link(factor, 0, 5.0, 5.0, 0.001, 0.001, 0.001, "strong", 0, alike)


def test_share_of_two_levels_is_levins(log_of, parameter_of):
    """
    Attributable fraction p (RR - 1) / (1 + p (RR - 1)), Levin (1953); p = .4, RR = 3 gives 4/9.

    With 4,000 chips the prior no longer matters; 4 standard errors of the share are 0.06.
    """
    rng = np.random.default_rng(31)
    yes = np.arange(1000) % 5 < 2
    tested = np.full(1000, 4)
    failed = rng.binomial(tested, np.where(yes, 0.30, 0.10))
    described = (parameter_of("touched", 0, kind="yes_no"),)
    log = log_of({"touched": yes * 1.0}, {"bond": failed}, tested, parameters=described)
    candidates, _ = gather(log.process, log.runs, np.zeros(1000, dtype=int))
    effect = FamilyEffects(log.process, log.runs, candidates, (claimed(0),), failed).effects(rng)[0]
    share = effect.draws.share(effect.choice.prevented)
    rates = failed[yes].mean() / 4, failed[~yes].mean() / 4
    ratio = rates[0] / rates[1]
    levin = 0.4 * (ratio - 1) / (1 + 0.4 * (ratio - 1))
    assert share.estimate == pytest.approx(levin, abs=0.01)
    assert share.estimate == pytest.approx(4 / 9, abs=0.06)
    assert share.lower < 4 / 9 < share.upper
    assert effect.choice.window.upper == 0.0


def test_mixture_quantiles_by_hand():
    """Half the weight on 0, the other half on 1, 2, 3, 4."""
    values = np.array([0.0, 1.0, 2.0, 3.0, 4.0])[:, None]
    low, high = mixture_quantiles(values, 1, 0.5)[:, 0]
    assert (low, high) == (0.0, 4.0)
    low, high = mixture_quantiles(values, 1, 1.0)[:, 0]
    assert (low, high) == (1.0, 4.0)
    low, high = mixture_quantiles(values, 1, 0.0)[:, 0]
    assert (low, high) == (0.0, 0.0)


def test_no_effect_takes_its_part_of_the_share():
    """The mean is shrunk by the probability of no effect; the upper end is not."""
    total = np.full(100, 10.0)
    prevented = np.linspace(2.0, 6.0, 100)[:, None]
    draws = Draws(0.25, total, prevented, prevented, prevented, np.full(10, 10.0), 50.0)
    share = draws.share(prevented[:, 0])
    assert share.estimate == pytest.approx(0.25 * 0.4)
    assert share.lower == 0.0
    assert share.upper == pytest.approx(np.quantile(prevented / 10.0, 0.95))
    assert share.level == 0.90


def test_alike_factors_share_the_effect(log_of):
    """Two copies of one column: neither can be given the whole effect."""
    rng = np.random.default_rng(32)
    x = rng.normal(size=200)
    tested = np.full(200, 3)
    failed = rng.binomial(tested, logistic(-1.5 + 1.2 * x))
    log = log_of({"x": x, "copy": x}, {"bond": failed}, tested)
    candidates, _ = gather(log.process, log.runs, np.zeros(200, dtype=int))
    links = (claimed(0, (1,)), Link(1, 0, 5.0, 5.0, 0.001, None, None, "some", None, (0,)))
    one, two = FamilyEffects(log.process, log.runs, candidates, links, failed).effects(rng)
    assert one.draws.effect_mass == pytest.approx(0.5, abs=0.01)
    assert two.draws.effect_mass == pytest.approx(0.5, abs=0.01)


def test_posterior_agrees_with_numerical_integration():
    """One shape beside an intercept: evidence and mean by a grid (Laplace within 2 %)."""
    rng = np.random.default_rng(33)
    x = rng.normal(size=150)
    tested = np.full(150, 2)
    failed = rng.binomial(2, logistic(-1.0 + 0.5 * x))
    null = fit_null(operator_background(np.zeros(150)), failed, tested)
    fits = fit_shapes(null, x[:, None], np.array([0.5]), failed, tested)
    a, b = np.meshgrid(np.linspace(-2, 0.5, 161), np.linspace(-0.5, 1.5, 161), indexing="ij")
    eta = a[..., None] + b[..., None] * x
    log_like = (failed * eta - tested * np.logaddexp(0, eta)).sum(axis=-1) - 0.5e-4 * a**2
    prior = 0.85 * norm.pdf(b, scale=2.0) + 0.15 * norm.pdf(b, scale=5.0)
    density = np.exp(log_like - log_like.max()) * prior
    cell = (2.5 / 160) * (2.0 / 160)
    without = np.exp(log_like[:, 40] - log_like.max()).sum() * (2.5 / 160)
    assert fits.log_bayes_factor == pytest.approx(np.log(density.sum() * cell / without), abs=0.02)
    mean = (density * b).sum() / density.sum()
    assert fits.weights @ fits.coefficients[:, 0] == pytest.approx(mean, abs=0.02)


@pytest.mark.parametrize("positive", [0.5, 0.75, 1.0])
def test_belief_is_the_evidence_of_a_mild_effect(positive):
    """Prior N(0, 0.5^2) with unequal halves, beside an intercept: by a grid (within 0.05)."""
    rng = np.random.default_rng(40)
    x = rng.normal(size=150)
    tested = np.full(150, 2)
    failed = rng.binomial(2, logistic(-1.0 + 0.3 * x))
    null = fit_null(operator_background(np.zeros(150)), failed, tested)
    fits = fit_shapes(null, x[:, None], np.array([positive]), failed, tested)
    a, b = np.meshgrid(np.linspace(-2, 0.5, 161), np.linspace(-1.0, 1.5, 201), indexing="ij")
    eta = a[..., None] + b[..., None] * x
    log_like = (failed * eta - tested * np.logaddexp(0, eta)).sum(axis=-1)
    half = np.where(b == 0.0, 0.5, np.where(b > 0.0, positive, 1.0 - positive))
    with_effect = np.exp(log_like - log_like.max()) * 2.0 * half * norm.pdf(b, scale=0.5)
    without = np.exp(log_like[:, 80] - log_like.max()).sum()
    expected = np.log(with_effect.sum() * (2.5 / 200) / without)
    assert b[0, 80] == pytest.approx(0.0)
    assert fits.belief(np.ones(1)) == pytest.approx(expected, abs=0.05)
    assert belief_in(
        SimpleNamespace(columns=x[:, None], positive=np.array([positive]), weights=np.ones(1)),
        null, failed, tested,
    ) == pytest.approx(fits.belief(np.ones(1)))  # fmt: skip


def test_one_sided_effects_are_never_negative():
    """Draws of a distance from the middle whose best fit is negative stay at or above 0."""
    rng = np.random.default_rng(34)
    x = rng.normal(size=100)
    tested = np.full(100, 2)
    failed = rng.binomial(2, logistic(-1.0 - 0.6 * x))
    null = fit_null(operator_background(np.zeros(100)), failed, tested)
    fits = fit_shapes(null, x[:, None], np.array([1.0]), failed, tested)
    assert fits.coefficients[0, 0] < 0
    _, draws = draw_effects(fits, 200, rng)
    assert draws[:, 0].min() >= -1e-9


@pytest.mark.parametrize("skewed", [False, True])
@pytest.mark.parametrize("positive", [0.75, 0.25, 0.5, 1.0])
def test_an_expected_sign_leans_on_the_draws_as_on_the_weights(positive, skewed):
    """
    Halves of the prior that weigh 2 q and 2 (1 - q) weigh the halves of the posterior alike.

    Against the same sum over a fine grid of the posterior that is drawn from (1.3 times as wide as
    Laplace's); 20,000 draws, so 4 standard errors of a share are 0.014, and of the mean 4 s / 141.
    """
    rng = np.random.default_rng(38)
    x = rng.normal(size=60)
    counts = rng.binomial(2, 0.25, size=60), np.full(60, 2)
    null = fit_null(operator_background(np.zeros(60)), *counts)
    fits = fit_shapes(
        null, x[:, None], np.array([positive]), *counts, sds=(2.0,), sd_weights=(1.0,)
    )
    middle, spread = fits.coefficients[0, 0], WIDER * fits.roots[0, 0, 0]
    grid = np.linspace(middle - 6 * spread, middle + 6 * spread, 24001)
    density = norm.pdf(grid, middle, spread)
    if skewed:
        fits = with_skew(fits, null, x[:, None], *counts)
        cumulated = np.interp((grid - middle) / spread, GRID, fits.cumulated[0])
        density = np.gradient(cumulated)
    density = density * np.where(grid > 0.0, positive, 1.0 - positive)
    density /= density.sum()
    _, draws = draw_effects(fits, 20_000, rng)
    assert 0.1 < norm.cdf(0.0, middle, spread) < 0.9
    assert (draws[:, 0] > 0.0).mean() == pytest.approx(density[grid > 0.0].sum(), abs=0.014)
    assert draws[:, 0].mean() == pytest.approx(density @ grid, abs=4 * spread / np.sqrt(20_000))


def test_without_expectation_draws_are_the_plain_normal_ones():
    """With q = 1/2 every draw is estimate + 1.3 root z, z the generator's own numbers."""
    rng = np.random.default_rng(39)
    x = rng.normal(size=60)
    counts = rng.binomial(2, 0.25, size=60), np.full(60, 2)
    null = fit_null(operator_background(np.zeros(60)), *counts)
    fits = fit_shapes(null, x[:, None], np.array([0.5]), *counts, sds=(2.0,), sd_weights=(1.0,))
    _, draws = draw_effects(fits, 500, np.random.default_rng(1))
    z = np.random.default_rng(1).standard_normal((500, fits.coefficients.shape[1]))
    expected = fits.coefficients[0] + WIDER * z @ fits.roots[0].T
    np.testing.assert_allclose(draws, expected, atol=1e-9)


def test_skewed_posteriors_are_drawn_as_they_are():
    """With plenty of data the table is the normal one; with separation its lower end is higher."""
    rng = np.random.default_rng(35)
    x = rng.normal(size=1500)
    plenty = rng.binomial(2, logistic(-1.0 + 0.5 * x))
    null = fit_null(operator_background(np.zeros(1500)), plenty, np.full(1500, 2))
    counts = plenty, np.full(1500, 2)
    fits = fit_shapes(null, x[:, None], np.array([0.5]), *counts)
    table = with_skew(fits, null, x[:, None], *counts).cumulated
    np.testing.assert_allclose(table[0], norm.cdf(GRID), atol=0.02)
    apart = np.repeat([-1.0, 1.0], 20)
    counts = np.where(apart > 0, 2, 0), np.full(40, 2)
    null = fit_null(operator_background(np.zeros(40)), *counts)
    fits = fit_shapes(null, apart[:, None], np.array([0.5]), *counts)
    _, plain = draw_effects(fits, 2000, np.random.default_rng(36))
    skewed = with_skew(fits, null, apart[:, None], *counts)
    _, drawn = draw_effects(skewed, 2000, np.random.default_rng(36))
    assert np.quantile(drawn[:, 0], 0.05) > np.quantile(plain[:, 0], 0.05) + 0.5


def test_long_logs_group_backgrounds_that_are_about_alike(log_of, monkeypatch):
    """600 runs beside a claimed number have 600 backgrounds: shares by 150 groups of them agree.

    The same draws serve both, so that only the grouping differs: 0.01 of a share.
    """
    rng = np.random.default_rng(37)
    x, other = rng.normal(size=(2, 600))
    tested = np.full(600, 2)
    failed = rng.binomial(2, logistic(-1.5 + 0.8 * x + 0.8 * other))
    log = log_of({"x": x, "other": other}, {"bond": failed}, tested)
    candidates = gather(log.process, log.runs, np.zeros(600, dtype=int))[0]
    links = (claimed(0), claimed(1))
    shares = []
    for most in (150, 10**6):
        monkeypatch.setattr("weakstep.failures.shares.MOST_BACKGROUNDS", most)
        effects = FamilyEffects(log.process, log.runs, candidates, links, failed)
        first = effects.effects(np.random.default_rng(38))[0]
        shares.append(first.draws.mean_share(first.draws.from_above))
    np.testing.assert_allclose(shares[0], shares[1], atol=0.01)
