"""Failures by operator, mould, lot and week."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.failures.groups import group_counts, shrunken_rates
from weakstep.failures.null_model import logistic
from weakstep.failures.tally import tally


def test_groups_that_do_not_differ_get_the_common_rate():
    """Six operators with the same true rate of 20 %: shrunken rates lie close together."""
    rng = np.random.default_rng(91)
    places = np.repeat(np.arange(6), 20)
    failed = rng.binomial(3, 0.2, 120)
    raw = np.bincount(places, weights=failed) / 60
    shrunk = np.array([one.estimate for one in shrunken_rates(places, failed, np.full(120, 3))])
    assert np.ptp(shrunk) < 0.4 * np.ptp(raw)
    assert all(one.lower < 0.2 < one.upper for one in shrunken_rates(places, failed,
               np.full(120, 3)))  # fmt: skip


def test_one_bad_day_of_one_person_accuses_nobody():
    """Three of AK's runs failed as a whole on one day: AK's interval holds the others' rate.

    Counted chip by chip AK would stand out: 9 of 30 against 27 of 270.
    """
    places = np.repeat([0, 1, 2, 3], [10, 30, 30, 30])
    failed = np.zeros(100, dtype=int)
    failed[:3] = 3
    failed[10::10] = 3
    one = shrunken_rates(places, failed, np.full(100, 3))[0]
    assert one.lower < 27 / 270 < one.upper
    assert one.estimate < 0.3


def test_plain_differences_stay():
    """With 200 runs each, 5 % and 30 % are estimated within 0.03 and their intervals apart."""
    rng = np.random.default_rng(92)
    places = np.repeat([0, 1], 200)
    failed = rng.binomial(3, np.where(places == 0, 0.05, 0.30))
    low, high = shrunken_rates(places, failed, np.full(400, 3))
    assert low.estimate == pytest.approx(0.05, abs=0.03)
    assert high.estimate == pytest.approx(0.30, abs=0.03)
    assert low.upper < high.lower


def test_shrinking_beats_counting():
    """Efron & Morris (1975): squared error over many small groups is smaller than of raw rates."""
    rng = np.random.default_rng(93)
    gain = []
    for _ in range(20):
        true = logistic(rng.normal(-1.5, 0.3, 8))
        places = np.repeat(np.arange(8), 8)
        failed = rng.binomial(3, true[places])
        raw = np.bincount(places, weights=failed) / 24
        shrunk = [one.estimate for one in shrunken_rates(places, failed, np.full(64, 3))]
        gain.append(((raw - true) ** 2).sum() - ((np.array(shrunk) - true) ** 2).sum())
    assert np.mean(gain) > 3 * np.std(gain) / np.sqrt(20)


def test_groups_without_a_single_failure_are_finite():
    """0 of 24 is a low rate, not an impossible one."""
    places = np.repeat([0, 1], 8)
    failed = np.where(places == 0, 0, 1)
    none, some = shrunken_rates(places, failed, np.full(16, 3))
    assert 0.0 < none.lower < none.estimate < some.estimate < some.upper < 1.0


def test_columns_that_group_runs_are_counted(log_of):
    """Operators and moulds are counted, unknown ones left out; one lot only is no grouping."""
    failed = np.array([1, 0, 2, 0, 0, 0])
    log = log_of(
        {"x": np.arange(6.0)},
        {"bond": failed},
        np.full(6, 3),
        operator=np.array(["AK", "AK", "BM", "BM", "", "BM"]),
        categories={"mould_id": np.array(list("ppqqqq")), "kit_lot": np.array(["L"] * 6)},
    )
    counts = group_counts(log.process, log.runs, failed)
    assert [(one.column, one.name, one.tested, one.failed) for one in counts] == [
        ("operator", "AK", 6, 1),
        ("operator", "BM", 9, 2),
        ("mould_id", "p", 6, 1),
        ("mould_id", "q", 12, 2),
    ]
    assert counts[0].rate.estimate == pytest.approx(1 / 6)
    assert tally(log).groups[0].shrunken.estimate == counts[0].shrunken.estimate
