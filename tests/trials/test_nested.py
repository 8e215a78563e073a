"""Chips nested in runs, limits of shares, and the difference of two."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from weakstep.trials.differences import newcombe_difference
from weakstep.trials.nested import as_if_independent, nesting
from weakstep.trials.power import nested_failures
from weakstep.trials.shares import beta_limits, good_in_a_row_needed, score_limits, still_possible


def test_chips_that_always_fail_together_count_once() -> None:
    """Runs of three that fail whole: correlation 1, design effect 3 in the long run."""
    failed = np.array([3, 0, 0, 3, 0, 0, 3, 0])
    found = nesting(failed, np.full(8, 3), np.arange(8) >= 4)
    assert found.correlation == pytest.approx(1.0)
    assert found.effects == pytest.approx((1.0 + 2.0 * 9.1 / 10.0,) * 2)
    assert found.freedom == 6
    long = nesting(np.tile(failed, 1000), np.full(8000, 3), np.arange(8000) >= 4000)
    assert long.effects == pytest.approx((3.0, 3.0), abs=0.001)


def test_each_run_weighs_by_what_it_says() -> None:
    """Single chips count whole, and chips that always fail together count as one."""
    tested = np.tile([1, 4, 10], 400)
    failed = np.where(np.arange(1200) % 4 == 0, tested, 0)
    k, m = as_if_independent(failed, tested, np.arange(1200) >= 600)
    assert m == pytest.approx(np.ones(1200), rel=0.005)
    assert k == pytest.approx(failed / tested, abs=0.005)
    apart = np.random.default_rng(5).binomial(tested, 0.3)
    _, alone = as_if_independent(apart, tested, np.arange(1200) >= 600)
    assert alone == pytest.approx(tested.astype(float), rel=0.2)


def test_without_failures_chips_are_not_taken_as_independent() -> None:
    """Nothing failed, or nothing was good: a small correlation stands in for one not seen."""
    for failed in (np.zeros(10, dtype=int), np.full(10, 5)):
        found = nesting(failed, np.full(10, 5), np.arange(10) >= 5)
        assert found.correlation == 0.0
        assert found.effects == pytest.approx((1.4, 1.4))


def test_a_change_between_groups_is_not_taken_for_nesting() -> None:
    """All fail before and none after: nothing is left within the groups."""
    failed = np.repeat([3, 0], 6)
    assert nesting(failed, np.full(12, 3), np.arange(12) >= 6).correlation == 0.0


def test_single_chips_have_no_nesting_effect() -> None:
    """With one chip a run there is nothing to nest; an untested run counts for nothing."""
    failed, tested = np.array([1, 0, 0, 1, 0, 1, 0]), np.array([1, 1, 1, 1, 1, 1, 0])
    found = nesting(failed, tested, np.arange(7) >= 3)
    assert found.effects == (1.0, 1.0)
    assert found.freedom == 4


@pytest.mark.parametrize(
    ("runs", "rates", "correlation"),
    [
        ((110, 90), (0.025, 0.025), 0.25),
        ((55, 35), (0.03, 0.06), 0.3),
        ((70, 40), (0.25, 0.1), 0.3),
    ],
)
def test_the_difference_is_covered_as_often_as_promised(
    runs: tuple[int, int], rates: tuple[float, float], correlation: float
) -> None:
    """In 4000 draws of chips nested in runs 93 to 97 % are covered (standard error 0.34 %)."""
    rng = np.random.default_rng(77)
    after = np.repeat([False, True], runs)
    held = 0
    for _ in range(4000):
        tested = rng.integers(1, 5, len(after))
        rate = np.where(after, rates[1], rates[0])
        failed = nested_failures(rng, rate, tested, correlation, rate.shape).astype(int)
        nested = nesting(failed, tested, after)
        before, since = (
            (failed[group].sum() / effect, tested[group].sum() / effect)
            for group, effect in zip((~after, after), nested.effects, strict=True)
        )
        found = newcombe_difference(since, before, freedom=nested.freedom, limits=beta_limits)
        held += found.lower <= rates[1] - rates[0] <= found.upper
    assert 0.93 <= held / 4000 <= 0.97


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 30), st.integers(1, 30), st.integers(0, 30), st.integers(1, 30))
def test_difference_turns_with_the_groups(k: int, m: int, other: int, seen: int) -> None:
    """Swapping the groups mirrors the interval, and it holds its estimate."""
    first, second = (min(k, m), m), (min(other, seen), seen)
    found, turned = newcombe_difference(first, second), newcombe_difference(second, first)
    assert found.lower == pytest.approx(-turned.upper, abs=1e-12)
    assert found.lower - 1e-12 <= found.estimate <= found.upper + 1e-12


def test_fewer_runs_widen_the_interval() -> None:
    """A t quantile of few degrees of freedom is wider than the normal one."""
    wide = newcombe_difference((5, 20), (9, 20), freedom=4)
    narrow = newcombe_difference((5, 20), (9, 20))
    assert wide.lower < narrow.lower
    assert wide.upper > narrow.upper


def test_impossible_counts_are_refused() -> None:
    """More failed than tested is a slip of the caller."""
    with pytest.raises(ValueError, match="got 3 of 2"):
        newcombe_difference((3, 2), (1, 2))


def test_score_limits_stay_between_0_and_1() -> None:
    """At the ends of the scale the limits are the ends themselves."""
    assert score_limits(0.0, 7.5, 1.96)[0] == 0.0
    assert score_limits(1.0, 7.5, 1.96)[1] == 1.0


def test_all_failed_rules_nothing_out() -> None:
    """With every chip failed any rate is possible."""
    assert still_possible(4, 4) == 1.0
    assert still_possible(0, 59) <= 0.05 < still_possible(0, 58)
    assert good_in_a_row_needed(0.05) == 59
