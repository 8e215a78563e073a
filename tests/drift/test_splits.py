"""Split statistics against slow, literal computation."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.drift.splits import prepare, split_norms, statistics

RUNS = 60
STRATA = np.random.default_rng(9).integers(0, 3, size=RUNS)
ONES = np.ones(3)


def scores_within(strata: np.ndarray, seed: int) -> np.ndarray:
    """Fifty series of normal values, mean 0 and variance 1 within each stratum."""
    series = np.random.default_rng(seed).normal(size=(len(strata), 50))
    for code in np.unique(strata):
        inside = strata == code
        series[inside] -= series[inside].mean(axis=0)
        series[inside] /= series[inside].std(axis=0)
    return series.astype(np.float32)


def lag_one(rest: np.ndarray) -> float:
    """Lag-1 correlation with the correction for what a fitted change costs."""
    r = float(rest[1:] @ rest[:-1] / (rest @ rest))
    return float(np.clip(r + (4.5 + 8 * max(r, 0.0)) / len(rest), 0, 0.8))


@pytest.mark.parametrize("strata", [np.zeros(RUNS, dtype=int), STRATA], ids=["one", "three"])
def test_statistics_match_literal_computation(strata: np.ndarray) -> None:
    """Step, ramp, spread and correlation agree with loops over splits, to single precision."""
    place = prepare(strata, ONES)
    series = scores_within(strata, 3)
    found, phi = statistics(series, place)
    norms = split_norms(strata, ONES)
    for number, column in enumerate(series.T.astype(float)):
        steps = np.array([abs(column[:k].sum()) / np.sqrt(norms[k]) for k in place.splits])
        ramps = np.abs(place.hinges.astype(float) @ column)
        if steps.max() >= ramps.max():
            k = int(place.splits[steps.argmax()])
            rest = np.r_[column[:k] - column[:k].mean(), column[k:] - column[k:].mean()]
        else:
            hinge = place.hinges[ramps.argmax()].astype(float)
            rest = column - hinge * (hinge @ column)
        if len(np.unique(strata)) == 1:  # with strata the power left over is an approximation
            assert phi[number] == pytest.approx(lag_one(rest), abs=1e-5)
        level = np.sqrt((1 - phi[number]) / (1 + phi[number]) / np.mean(column**2))
        assert found["step"][number] == pytest.approx(steps.max() * level, rel=1e-4)
        assert found["ramp"][number] == pytest.approx(ramps.max() * level, rel=1e-4)


def test_spread_is_the_padded_likelihood_ratio() -> None:
    """Twice the log likelihood ratio with three runs of variance 1 on each side."""
    place = prepare(np.zeros(RUNS, dtype=int), np.ones(1))
    series = scores_within(np.zeros(RUNS, dtype=int), 4)
    found, phi = statistics(series, place)
    column = series[:, 0].astype(float)
    ratios = []
    for k in place.splits:
        before = ((column[:k] ** 2).sum() + 3) / (k + 3)
        after = ((column[k:] ** 2).sum() + 3) / (RUNS - k + 3)
        ratios.append(-(k + 3) * np.log(before) - (RUNS - k + 3) * np.log(after))
    factor = (1 - phi[0] ** 2) / (1 + phi[0] ** 2)
    assert found["spread"][0] == pytest.approx(max(ratios) * factor, rel=1e-4)


def test_norms_are_the_variance_over_reorderings() -> None:
    """Re-ordering within strata gives sums with the stated variance, within 4 standard errors."""
    rng = np.random.default_rng(5)
    scores = scores_within(STRATA, 6)[:, 0].astype(float)
    sums = np.empty((4000, RUNS))
    for row in sums:
        shuffled = scores.copy()
        for code in range(3):
            inside = np.flatnonzero(np.equal(STRATA, code))
            shuffled[inside] = scores[rng.permutation(inside)]
        row[:] = np.cumsum(shuffled)
    norms = split_norms(STRATA, ONES)
    sizes = np.bincount(STRATA)
    for k in (10, 30, 50):
        # Finite populations: n/(n-1) per stratum, at most 1/(smallest - 1) more.
        assert sums[:, k - 1].var() == pytest.approx(
            norms[k], rel=4 * np.sqrt(2 / 4000) + 1 / (sizes.min() - 1)
        )


def test_splits_between_strata_are_left_out() -> None:
    """Where one operator follows another, the split between them compares nothing."""
    strata = np.repeat([0, 1], 30)
    place = prepare(strata, np.ones(2))
    assert 30 not in place.splits
    assert {15, 45} <= set(place.splits.tolist())


def test_change_is_larger_than_calm() -> None:
    """A planted step, ramp and doubled spread each raise their own statistic most."""
    rng = np.random.default_rng(7)
    calm = rng.normal(size=RUNS)
    series = np.column_stack([calm, calm, calm, calm])
    series[30:, 1] += 2.5
    series[:, 2] += np.linspace(0, 4, RUNS)
    series[30:, 3] *= 4
    series = (series - series.mean(axis=0)) / series.std(axis=0)
    found, _ = statistics(series.astype(np.float32), prepare(np.zeros(RUNS, dtype=int), np.ones(1)))
    assert found["step"].argmax() in (1, 2)
    assert found["step"][1] > found["ramp"][1]
    assert found["ramp"][2] > found["step"][2]
    assert found["spread"].argmax() == 3
