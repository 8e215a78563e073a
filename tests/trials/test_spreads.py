"""Ratios of two spreads: coverage for unlike distributions, and other roads to their error."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy.stats import f as f_law

from weakstep.trials.spreads import ratio_of_spreads

Draw = Callable[[np.random.Generator, int], np.ndarray]


def mixed(rng: np.random.Generator, count: int) -> np.ndarray:
    """Draw normal values of which a tenth scatter four times as much."""
    return rng.normal(size=count) * np.where(rng.random(count) < 0.1, 4.0, 1.0)


@pytest.mark.parametrize(
    "draw",
    [
        lambda rng, count: rng.normal(size=count),
        lambda rng, count: rng.exponential(size=count),
        lambda rng, count: rng.uniform(size=count),
        mixed,
    ],
    ids=["normal", "exponential", "uniform", "mixed"],
)
@pytest.mark.parametrize("sizes", [(10, 10), (30, 10), (30, 30)])
def test_covered_as_often_as_promised(draw: Draw, sizes: tuple[int, int]) -> None:
    """2000 draws of two like groups: at least 93.5 % hold 1, less 2 standard errors of 0.55 %."""
    rng = np.random.default_rng(60)
    held = 0
    for _ in range(2000):
        found = ratio_of_spreads(draw(rng, sizes[0]), draw(rng, sizes[1]))
        held += found.lower <= 1.0 <= found.upper
    assert held / 2000 >= 0.935 - 2 * 0.0055


def test_long_normal_groups_by_the_f_law() -> None:
    """4000 normal values each: the ends of the F interval within half a per cent."""
    rng = np.random.default_rng(61)
    first, second = rng.normal(size=4000), rng.normal(0.0, 1.3, 4000)
    found = ratio_of_spreads(first, second)
    square = second.var(ddof=1) / first.var(ddof=1)
    ends = [math.sqrt(square / f_law.ppf(share, 3999, 3999)) for share in (0.975, 0.025)]
    assert (found.lower, found.upper) == pytest.approx(tuple(ends), rel=0.005)


def test_the_error_of_skewed_groups_by_the_jackknife() -> None:
    """Exponential values: the error of the log ratio, leaving out one value at a time (15 %)."""
    rng = np.random.default_rng(62)
    groups = [rng.exponential(size=600), rng.exponential(size=600)]
    variance = 0.0
    for group in groups:
        without = [np.log(np.delete(group, place).std(ddof=1)) for place in range(600)]
        variance += 599.0 * float(np.var(without))
    found = ratio_of_spreads(*groups)
    assert math.log(found.upper / found.lower) == pytest.approx(
        2.0 * 1.959964 * math.sqrt(variance), rel=0.15
    )


def test_turned_round_and_scaled() -> None:
    """Exchanged groups invert the interval; a unit changes nothing."""
    rng = np.random.default_rng(63)
    first, second = rng.normal(size=12), rng.exponential(size=9)
    found, turned = ratio_of_spreads(first, second), ratio_of_spreads(second, first)
    assert (found.lower, found.upper) == pytest.approx((1.0 / turned.upper, 1.0 / turned.lower))
    scaled = ratio_of_spreads(10.0 * first + 3.0, 10.0 * second - 5.0)
    assert (scaled.lower, scaled.upper) == pytest.approx((found.lower, found.upper))


def test_groups_that_do_not_vary_or_are_small() -> None:
    """No ends where a group stands still; too few values are refused."""
    moving, still = [1.0, 2.0, 3.0, 4.0, 5.0], [2.0] * 6
    stopped = ratio_of_spreads(moving, still)
    assert (stopped.estimate, stopped.lower, stopped.upper) == (0.0, 0.0, math.inf)
    assert math.isnan(ratio_of_spreads(still, moving).estimate)
    with pytest.raises(ValueError, match="Found 4 and 6 values; expected at least 5"):
        ratio_of_spreads(moving[:4], still)
