"""Laney's charts against their definition, the ordinary charts and simulated scatter."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from weakstep.charts import c_chart, laney_p_chart, laney_u_chart, np_chart, p_chart, u_chart
from weakstep.charts.laney import sigma_of_z
from weakstep.errors import NotEnoughError


def test_limits_by_the_definition() -> None:
    """Unequal sizes, step by step: z, its moving ranges, and limits of each point."""
    failed = np.array([30, 55, 12, 70, 41, 18, 66])
    tested = np.array([1000, 1500, 800, 1200, 1100, 900, 1300])
    share = failed.sum() / tested.sum()
    sigma = np.sqrt(share * (1 - share) / tested)
    z = (failed / tested - share) / sigma
    factor = np.abs(np.diff(z)).mean() / (2 / np.sqrt(np.pi))
    chart = laney_p_chart(failed, tested)
    assert factor > 1.5
    assert chart.limits.upper == pytest.approx(share + 3 * factor * sigma)
    assert chart.limits.lower == pytest.approx(np.maximum(share - 3 * factor * sigma, 0.0))
    assert chart.kind == "p'"
    rates = laney_u_chart(failed, tested)
    rate_sigma = np.sqrt(share / tested)
    factor = np.abs(np.diff((failed / tested - share) / rate_sigma)).mean() / (2 / np.sqrt(np.pi))
    assert rates.limits.upper == pytest.approx(share + 3 * factor * rate_sigma)


@settings(derandomize=True, deadline=None, max_examples=40)
@given(st.integers(0, 10_000), st.booleans())
def test_ratio_to_the_ordinary_limits_is_sigma_of_z(seed: int, of_rates: bool) -> None:
    """Where sigma of z is 1 it is the ordinary chart; in general limits are so much wider."""
    rng = np.random.default_rng(seed)
    size = rng.integers(500, 900, size=12).astype(float)
    bad = rng.binomial(size.astype(int), 0.3)
    laney, plain = (laney_u_chart, u_chart) if of_rates else (laney_p_chart, p_chart)
    wide, narrow = laney(bad, size).limits, plain(bad, size).limits
    ratio = (wide.upper - wide.centre) / (narrow.upper - narrow.centre)
    sigma = (narrow.upper - narrow.centre) / 3
    assert ratio == pytest.approx(sigma_of_z(bad / size - narrow.centre, sigma))


@pytest.mark.parametrize("extra", [0.0, 0.02])
def test_factor_finds_the_scatter_between_points(extra: float) -> None:
    """Sigma of z estimates sqrt(1 + between / within), within 3 standard errors of 4000 points."""
    rng = np.random.default_rng(17)
    share = np.clip(0.2 + extra * rng.normal(size=4000), 0.0, 1.0)
    chart = laney_p_chart(rng.binomial(2000, share), np.full(4000, 2000))
    found = (chart.limits.upper[0] - chart.limits.centre) / (3 * np.sqrt(0.2 * 0.8 / 2000))
    expected = np.sqrt(1 + extra**2 / (0.2 * 0.8 / 2000) * (1 - 1 / 2000))
    # Relative variance of a mean moving range: 0.826 / n (Cryer and Ryan 1990).
    assert found == pytest.approx(expected, rel=3 * np.sqrt(0.83 / 4000))


def test_known_shares_and_means() -> None:
    """Limits stand on the known value, and the ordinary formulas hold."""
    failed, tested = [3, 4, 1, 2], [50, 50, 40, 60]
    limits = p_chart(failed, tested, share=0.1).limits
    assert limits.centre == 0.1
    assert limits.upper == pytest.approx(0.1 + 3 * np.sqrt(0.09 / np.array(tested)))
    assert np_chart([3, 4], 50, share=0.1).limits.upper == pytest.approx(5 + 3 * np.sqrt(4.5))
    assert c_chart([3, 4], mean=16.0).limits.upper == pytest.approx(28.0)
    assert u_chart([3, 4], [2.0, 4.0], rate=4.0).limits.upper == pytest.approx(
        [4 + 3 * np.sqrt(2.0), 7.0]
    )
    assert laney_p_chart(failed, tested, share=0.1).limits.centre == 0.1
    assert laney_u_chart(failed, tested, rate=0.1).limits.centre == 0.1
    # Known limits are given even where nothing failed.
    assert p_chart([0, 0], [50, 50], share=0.1).limits.upper[0] == pytest.approx(0.2272792)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: p_chart([1], [5], share=1.0), "share must lie between 0 and 1"),
        (lambda: np_chart([1], 0), "size must be a whole number of at least 1"),
        (lambda: c_chart([1, 2], mean=0.0), "mean must be above 0"),
        (lambda: u_chart([1, 2], [1, 1], rate=float("nan")), "rate must be above 0"),
        (lambda: laney_p_chart([6], [5]), "found 6 of 5 at point 1"),
        (lambda: laney_u_chart([1.5], [5]), "faults must be whole counts"),
        (lambda: laney_u_chart([1], [-5]), "area must hold finite numbers, none negative"),
    ],
)
def test_refusals(call, words: str) -> None:  # type: ignore[no-untyped-def]
    """One sentence names the argument and what was found."""
    with pytest.raises(ValueError, match=words):
        call()


def test_no_scatter_to_estimate() -> None:
    """One point, or points all alike, have no sigma of z."""
    with pytest.raises(NotEnoughError, match="at least 2 points"):
        laney_p_chart([1], [5])
    with pytest.raises(NotEnoughError, match="Every point is alike"):
        laney_u_chart([3, 3, 3], [1, 1, 1])
    with pytest.raises(NotEnoughError, match="some variation"):
        laney_p_chart([0, 0], [5, 5])
