"""Logs of very many points: chances that become geometric are not followed one by one."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest

from weakstep.charts import (
    NELSON,
    WESTERN_ELECTRIC,
    average_run_length,
    beyond,
    count_cusum_law,
    cusum,
    cusum_law,
    cusum_survival,
    ewma,
    ewma_law,
    ewma_survival,
    false_alarm,
    fault_law,
    individuals,
    mewma_survival,
    moving_range_false_alarm,
    run_length_law,
    share_law,
    survival,
)
from weakstep.charts.run_length_laws import survivals_of


def test_long_rows_are_short_rows_gone_on() -> None:
    """Chances up to 3000 points agree with those of 900 and with the laws."""
    cases = [
        (lambda n: cusum_survival(n, 0.5, 4.0, two_sided=True), cusum_law(0.5, 4.0)),
        (lambda n: cusum_survival(n, 0.5, 4.0), cusum_law(0.5, 4.0, two_sided=False)),
        (lambda n: ewma_survival(n, 0.1, 2.7), ewma_law(0.1, 2.7)),
        (
            lambda n: ewma_survival(n, 0.1, 2.7, constant_limits=False),
            ewma_law(0.1, 2.7, constant_limits=False),
        ),
        (lambda n: survival(n, WESTERN_ELECTRIC), run_length_law(WESTERN_ELECTRIC)),
        (lambda n: survival(n, NELSON), run_length_law(NELSON)),
    ]
    for of, law in cases:
        short, long = of(900), of(3000)
        assert len(long) == 3000
        assert long[:900] == pytest.approx(short, rel=1e-9, abs=1e-15)
        assert long[-1] == pytest.approx(law.survival(3000), rel=1e-6)
    growing = mewma_survival(400, 8.6, 2, 0.1, constant_limits=False)
    ratios = growing[1:] / growing[:-1]
    assert ratios[-1] == pytest.approx(ratios[-2], rel=1e-12)
    assert (np.diff(growing) < 0.0).all()


def test_a_million_points_take_no_time() -> None:
    """Chances and charts of a hundred thousand points and more in a few seconds of computing."""
    values = np.random.default_rng(121).normal(size=100_000)
    began = time.process_time()
    assert false_alarm(10_000_000, WESTERN_ELECTRIC) == 1.0
    assert moving_range_false_alarm(1_000_000) == 1.0
    assert cusum(values, target=0.0, sigma=1.0).false_alarm == pytest.approx(1.0)
    assert ewma(values, target=0.0, sigma=1.0).false_alarm == pytest.approx(1.0)
    assert individuals(values)[0].false_alarm == pytest.approx(1.0)
    assert time.process_time() - began < 5.0 * 3  # three times the promise, for slow machines


def test_more_points_than_any_log_has() -> None:
    """A row of more than a million chances is refused."""
    with pytest.raises(ValueError, match="n_points must be at most 1000000"):
        survivals_of(iter([0.5]), 1_000_001)
    with pytest.raises(ValueError, match="n_points must be a whole number"):
        cusum_survival(-1, 0.5, 4.0)
    with pytest.raises(ValueError, match="n_points must be a whole number"):
        cusum_law(0.5, 4.0).survival(-1)


def test_limits_that_no_early_point_can_reach() -> None:
    """Where the first points never signal, chances are followed until they can."""
    cases = [
        (lambda n: ewma_survival(n, 0.01, 3.0), ewma_law(0.01, 3.0)),
        (
            lambda n: cusum_survival(n, 0.5, 50.0, 0.8, two_sided=True),
            cusum_law(0.5, 50.0, 0.8),
        ),
        (lambda n: cusum_survival(n, 0.0, 20.0), cusum_law(0.0, 20.0, two_sided=False)),
    ]
    for of, law in cases:
        short, long = of(900), of(3000)
        assert short[0] == pytest.approx(1.0, abs=1e-12)
        assert short[-1] < 0.9
        assert long[:900] == pytest.approx(short, rel=1e-9, abs=1e-13)
        assert [law.survival(n) for n in (1, 300, 900)] == pytest.approx(
            short[[0, 299, 899]], rel=1e-9, abs=1e-13
        )
        # The chances add up to the average, which comes from linear equations instead.
        tail = law.left[-1] * law.going_on / (1 - law.going_on)
        assert law.left.sum() + tail == pytest.approx(law.average, rel=1e-6)
    # So far off that rounding makes a chance of a signal first: about (h + 1.166) / (shift - k).
    assert cusum_law(0.5, 200.0, 1.0, two_sided=False).quantile(0.5) == pytest.approx(402, abs=6)
    items = count_cusum_law(0.01, 1 / 40, 3.0, tested=1)
    assert items.sd == pytest.approx(items.average, rel=0.02)
    assert items.quantile(0.5) == pytest.approx(math.log(2) * items.average, rel=0.02)
    # A pattern longer than any that has a name.
    assert share_law(50, 0.2, names=[beyond(20, 20, 0.0)]).survival(10_000) < 1.0 - 1e-5


def test_signals_too_seldom_for_a_number() -> None:
    """An average beyond 1e12 points is infinite, with one pattern and with several."""
    assert average_run_length([beyond(1, 1, 9.0)]) == math.inf
    assert average_run_length([beyond(1, 1, 9.0), beyond(2, 3, 9.0)]) == math.inf
    assert run_length_law([beyond(1, 1, 9.0)]).sd == math.inf
    assert false_alarm(2000, ["beyond_limit"], width=12.0) == pytest.approx(0.0, abs=1e-9)
    never = share_law(5, 0.5)  # its limits lie beyond 0 and 5 items
    assert (never.average, never.survival(5000)) == (math.inf, 1.0)
    with pytest.raises(ValueError, match="signals are too seldom to tell a quantile"):
        never.quantile(0.5)
    with pytest.raises(ValueError, match="no patterns of steps are looked for"):
        fault_law(16.0, names=["six_steady"])
    with pytest.raises(ValueError, match="remember more than 100000 pasts"):
        average_run_length([beyond(10, 20, 1.0)])
