"""Luck: runs dealt again, within operators where that can be done."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.trials.dealing import how_dealt, lots_of, same_hands
from weakstep.trials.luck import chance_groups_differ, chance_of_luck


def test_luck_is_uniform_when_nothing_changed() -> None:
    """1000 semesters without a change: p <= 0.05 in at most 5 % (bound: 3 standard errors)."""
    rng = np.random.default_rng(11)
    later = np.arange(24) >= 14
    operator = np.tile(["OP1", "OP2", "OP3"], 8)
    wrong = 0
    for trial in range(1000):
        tested = rng.integers(1, 5, 24)
        failed = rng.binomial(tested, rng.beta(1.0, 4.0, 24))
        p = chance_of_luck(failed, tested, later, operator, seed=trial, reorderings=199)
        wrong += p <= 0.05
    assert wrong <= 50 + 3 * np.sqrt(1000 * 0.05 * 0.95)


def test_one_new_operator_is_not_told_from_a_new_period() -> None:
    """OP1 made all runs before, OP2 all after: 5 % against 45 % may be the person; 2 each, less."""
    later = np.arange(80) >= 40
    tested = np.full(80, 3)
    failed = np.where(later, np.arange(80) % 9 < 4, np.arange(80) % 20 < 1) * 3
    one = np.where(later, "OP2", "OP1")
    four = np.char.add(one, np.where(np.arange(80) % 2, "a", "b"))
    assert not same_hands(one, later)
    assert how_dealt(one, later) == how_dealt(four, later) == "too few operators"
    p = [chance_of_luck(failed, tested, later, who) for who in (one, four, np.full(80, ""))]
    assert p[0] > 0.05
    assert p[0] > p[1] > p[2]
    assert chance_of_luck(0 * failed, tested, later, one) == 1.0


def new_hands(rng: np.random.Generator, periods: int, each: int) -> tuple[np.ndarray, ...]:
    """Draw failures of 24 runs a period, by operators new in each, who differ by 0.7 logits."""
    place = np.repeat(np.arange(periods), 24)
    who = rng.integers(0, each, len(place)) + each * place
    own = rng.normal(-1.2, 0.7, periods * each)[who]
    tested = rng.integers(1, 5, len(place))
    return rng.binomial(tested, 1.0 / (1.0 + np.exp(-own))), tested, place, who.astype(str)


@pytest.mark.parametrize(("periods", "each"), [(2, 1), (2, 3), (3, 2)])
def test_few_new_operators_are_not_taken_for_a_new_period(periods: int, each: int) -> None:
    """500 logs of few operators, new each time: p <= 0.05 in 5 % (3 errors)."""
    rng = np.random.default_rng(16)
    drawn = [new_hands(rng, periods, each) for _ in range(500)]
    wrong = sum(chance_of_luck(*one) <= 0.05 for one in drawn)
    assert wrong <= 25 + 3 * np.sqrt(500 * 0.05 * 0.95)


@pytest.mark.parametrize(("periods", "each"), [(2, 6), (3, 4)])
def test_new_operators_are_not_taken_for_a_new_period(periods: int, each: int) -> None:
    """1000 logs whose operators differ and are new each time: p <= 0.05 in 5 % (3 errors)."""
    rng = np.random.default_rng(14)
    wrong = [0, 0, 0]
    for trial in range(1000):
        failed, tested, place, who = new_hands(rng, periods, each)
        lots = lots_of(failed, tested, place, who)
        differ = chance_groups_differ(
            lots.failed, lots.tested, lots.period, lots.stratum, seed=trial, reorderings=199
        )
        everybody = np.full(len(who), "")
        found = (
            chance_of_luck(failed, tested, place, who, seed=trial, reorderings=199),
            1.0 if differ is None else differ,
            chance_of_luck(failed, tested, place, everybody, seed=trial, reorderings=199),
        )
        wrong = [count + (p <= 0.05) for count, p in zip(wrong, found, strict=True)]
    assert max(wrong[:2]) <= 50 + 3 * np.sqrt(1000 * 0.05 * 0.95)
    assert wrong[2] > 80, "dealing runs takes new hands for a new period"


def test_who_stays_is_dealt_run_by_run_beside_new_operators() -> None:
    """Ten new operators are one lot each, the three runs of one who stayed three lots."""
    who = np.array([*"abcdeS", *"fghijSS", *"abcde", *"fghij"])
    place = np.array([0] * 6 + [1] * 7 + [0] * 5 + [1] * 5)
    failed, tested = np.arange(23) % 3, np.full(23, 2)
    lots = lots_of(failed, tested, place, who)
    assert how_dealt(who, place) == "operators"
    assert np.bincount(lots.stratum).max() == 10
    assert (lots.stratum > 0).sum() == 3
    assert lots.failed.sum() == failed.sum()
    assert sorted(lots.tested) == [2] * 3 + [4] * 10


def test_hands_that_stay_are_held() -> None:
    """Each of two operators has a rate of his own and the share of their runs moves: no change."""
    who = np.array(["a"] * 12 + ["b"] * 4 + ["a"] * 4 + ["b"] * 12)
    later = np.arange(32) >= 16
    failed = np.where(who == "a", 3, 0)
    assert same_hands(who, later)
    assert chance_of_luck(failed, np.full(32, 3), later, who, reorderings=99) == 1.0
    nobody = np.full(32, "")
    assert chance_of_luck(failed, np.full(32, 3), later, nobody, reorderings=99) <= 0.05


def test_trend_over_three_periods_is_uniform_without_one() -> None:
    """1000 logs of three semesters without a trend: p <= 0.05 in 5 % (bound: 3 errors)."""
    rng = np.random.default_rng(12)
    place = np.repeat([0, 1, 2], [10, 14, 8])
    wrong = [0, 0]
    for trial in range(1000):
        tested = rng.integers(1, 5, 32)
        failed = rng.binomial(tested, rng.beta(1.0, 4.0, 32))
        hands = np.full(32, "")
        trend = chance_of_luck(failed, tested, place, hands, seed=trial, reorderings=99)
        differ = chance_groups_differ(failed, tested, place, hands, seed=trial, reorderings=99)
        wrong[0] += trend <= 0.05
        wrong[1] += (1.0 if differ is None else differ) <= 0.05
    assert max(wrong) <= 50 + 3 * np.sqrt(1000 * 0.05 * 0.95)


def test_long_logs_by_the_normal_law() -> None:
    """A log cut at 3000 runs is dealt again, one run longer goes by the normal law: p agree."""
    rng = np.random.default_rng(13)
    place = (np.arange(3001) >= 1500).astype(int)
    who = np.array(["a", "b", "c"])[rng.integers(0, 3, 3001)]
    tested = rng.integers(1, 4, 3001)
    failed = rng.binomial(tested, 0.2 - 0.025 * place)
    p = chance_of_luck(failed, tested, place, who, seed=3)
    dealt = chance_of_luck(failed[1:], tested[1:], place[1:], who[1:], seed=3, reorderings=999)
    assert 0.001 < p < 0.2
    assert p == pytest.approx(dealt, abs=3 * np.sqrt(p / 999) + 0.003)


def test_groups_that_differ_without_a_trend() -> None:
    """High, low, high: no trend, but the groups differ."""
    group = np.repeat([0, 1, 2], 12)
    failed = np.where(group == 1, 0, 2)
    hands = np.full(36, "")
    assert chance_of_luck(failed, np.full(36, 3), group, hands, reorderings=499) > 0.5
    assert chance_groups_differ(failed, np.full(36, 3), group, hands) == pytest.approx(0.001)
    assert chance_groups_differ(0 * failed, np.full(36, 3), group, hands) is None
