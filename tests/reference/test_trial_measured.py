"""
Trials with a measured outcome: scatter of nested chips, and blocks.

- Dyestuff yields, six batches of five: O. L. Davies (1947), Statistical Methods in Research and
  Production; mean squares 11271.5 and 2451.25, variance component of batches 1764.05, as texts on
  mixed models print them.
- Second roads: REML by statsmodels, the paired t interval of scipy, least squares of statsmodels.
"""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from scipy.stats import ttest_rel
from statsmodels.formula.api import mixedlm, ols

from weakstep.trials.designs import aliases, two_level
from weakstep.trials.effects import numeric_effects, told_apart
from weakstep.trials.means import scatter_of_means

YIELDS = [
    [1545, 1440, 1440, 1520, 1580],
    [1540, 1555, 1490, 1560, 1495],
    [1595, 1550, 1605, 1510, 1560],
    [1445, 1440, 1595, 1465, 1545],
    [1595, 1630, 1515, 1635, 1625],
    [1520, 1455, 1450, 1480, 1445],
]
ONLY = [(frozenset({1}),)]


def test_dyestuff_as_printed() -> None:
    """A mean of m yields scatters by sqrt(1764.05 + 2451.25 / m)."""
    batch = np.repeat(np.arange(6), 5)
    for chips in (1, 2, 5, 20):
        scatter, correlation = scatter_of_means(np.ravel(YIELDS), batch, chips)
        assert scatter == pytest.approx(math.sqrt(1764.05 + 2451.25 / chips), rel=1e-9)
        assert correlation == pytest.approx(1764.05 / (1764.05 + 2451.25), rel=1e-9)
    assert scatter_of_means(np.ravel(YIELDS), batch, 5)[0] == pytest.approx(
        math.sqrt(11271.5 / 5), rel=1e-9
    ), "with as many as were measured, the scatter of the means themselves"


def test_unequal_runs_by_another_estimator() -> None:
    """Runs of 1 to 6 chips: REML by statsmodels finds nearly the same components (5 %)."""
    rng = np.random.default_rng(4)
    size = rng.integers(1, 7, 400)
    run = np.repeat(np.arange(400), size)
    values = rng.normal(0.0, 2.0, 400)[run] + rng.normal(0.0, 3.0, len(run))
    frame = pd.DataFrame({"y": values, "run": run})
    fit = mixedlm("y ~ 1", frame, groups="run").fit()
    scatter, correlation = scatter_of_means(values, run, 3)
    of_runs, within = float(fit.cov_re.iloc[0, 0]), float(fit.scale)
    assert scatter == pytest.approx(math.sqrt(of_runs + within / 3.0), rel=0.05)
    assert correlation == pytest.approx(of_runs / (of_runs + within), abs=0.03)


def test_scatter_where_little_is_known() -> None:
    """One chip a run is its run; runs alike count their chips only; one run says nothing."""
    values = [3.0, 1.0, 4.0, 1.0, 5.0]
    assert scatter_of_means(values, np.arange(5), 4) == pytest.approx((np.std(values, ddof=1), 1.0))
    assert scatter_of_means([1.0, 3.0, 1.0, 3.0], [0, 0, 1, 1], 4) == pytest.approx(
        (math.sqrt(4.0 / 3.0 / 4.0), 0.0)
    )
    assert scatter_of_means([1.0, 2.0], ["a", "a"], 2) == (0.0, 0.0)
    assert scatter_of_means([2.0, 2.0], ["a", "b"], 2) == (0.0, 0.0)


def test_blocks_of_two_runs_are_pairs() -> None:
    """One run at either level a day: the paired t interval."""
    rng = np.random.default_rng(12)
    day = rng.normal(0.0, 20.0, 9)
    low, high = day + rng.normal(0.0, 1.0, 9), day + 2.0 + rng.normal(0.0, 1.0, 9)
    coded = np.repeat([-1.0, 1.0], 9)[:, None]
    outcome, block = np.concatenate([low, high]), np.tile(np.arange(9), 2)
    found = numeric_effects(coded, outcome, ONLY, block)[0].estimate
    told = ttest_rel(high, low).confidence_interval(0.95)
    assert (found.lower, found.upper) == pytest.approx((told.low, told.high))
    apart = numeric_effects(coded, outcome, ONLY)[0].estimate
    assert apart.upper - apart.lower > 5 * (found.upper - found.lower)


def test_blocks_and_centre_runs_by_a_librarys_least_squares() -> None:
    """Three factors in two blocks with a middle that bends: coefficients and their ends."""
    rng = np.random.default_rng(13)
    block = np.repeat([1, 2], 10)
    coded = np.tile(np.vstack([two_level(3).coded, np.zeros((2, 3))]), (2, 1))
    middle = (~coded.any(axis=1)).astype(float)
    y = 5.0 * block + coded @ [1.0, 0.0, -2.0] + 9.0 * middle + rng.normal(0.0, 1.0, 20)
    groups = aliases(two_level(3), 3)
    found = numeric_effects(coded, y, groups, block)
    frame = pd.DataFrame(coded, columns=["a", "b", "c"]).assign(y=y, day=block, middle=middle)
    fit = ols("y ~ (a + b + c)**2 + C(day) + middle", frame).fit()
    names = ["a", "b", "c", "a:b", "a:c", "b:c"]
    for effect, name in zip(found, names, strict=True):
        assert effect.estimate.estimate == pytest.approx(2.0 * fit.params[name])
        ends = 2.0 * fit.conf_int().loc[name].to_numpy()
        assert (effect.estimate.lower, effect.estimate.upper) == pytest.approx(tuple(ends))


def test_what_a_broken_off_trial_cannot_tell() -> None:
    """Low on one day and high on the other: the day cannot be told from the level."""
    coded = [[-1.0], [-1.0], [1.0], [1.0]]
    assert told_apart(coded, ONLY)
    assert not told_apart(coded, ONLY, [1, 1, 2, 2])
