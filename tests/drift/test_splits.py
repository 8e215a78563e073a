"""Split statistics against slow, literal computation."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.drift.splits import evidence, prepare, split_norms

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
    return r + (6 + 11 * max(r, 0.0)) / len(rest)


def log_mean_exp(gains: np.ndarray) -> float:
    """Log of the mean of exp."""
    return float(np.log(np.mean(np.exp(gains))))


@pytest.mark.parametrize("strata", [np.zeros(RUNS, dtype=int), STRATA], ids=["one", "three"])
def test_evidence_matches_literal_computation(strata: np.ndarray) -> None:
    """Evidence and correlation agree with loops over splits and templates."""
    place = prepare(strata, ONES)
    series = scores_within(strata, 3)
    found, phi = evidence(series, place)
    norms = split_norms(strata, ONES)
    for number, column in enumerate(series.T.astype(float)):
        steps = np.array([column[:k].sum() ** 2 / norms[k] for k in place.splits])
        fitted = (place.templates.astype(float) @ column) ** 2
        if steps.max() >= fitted.max():
            k = int(place.splits[steps.argmax()])
            rest = np.r_[column[:k] - column[:k].mean(), column[k:] - column[k:].mean()]
        else:
            template = place.templates[fitted.argmax()].astype(float)
            rest = column - template * (template @ column)
        if len(np.unique(strata)) == 1:  # with strata the power left over is an approximation
            assert phi[number] == pytest.approx(lag_one(rest), abs=1e-5)
        power, f = column @ column, float(np.clip(phi[number], 0, 0.8))
        likeness = (1 - f) / (1 + f)

        def gain(explained: np.ndarray, power: float = power, likeness: float = likeness) -> float:
            return log_mean_exp(-RUNS / 2 * np.log(1 - explained / power) * likeness)

        ratios = []
        for k in place.splits:
            before = (column[:k] @ column[:k] * RUNS / power + 8) / (k + 8)
            after = (column[k:] @ column[k:] * RUNS / power + 8) / (RUNS - k + 8)
            ratios.append(-(k + 8) * np.log(before) - (RUNS - k + 8) * np.log(after))
        spread = log_mean_exp(np.array(ratios) * 0.7 * (1 - f**2) / (1 + f**2))
        parts = [gain(steps), gain(fitted[: place.n_ramps]), gain(fitted[place.n_ramps :]), spread]
        literal = np.log(np.array([0.37, 0.155, 0.095, 0.38]) @ np.exp(parts))
        assert found[number] == pytest.approx(literal, abs=2e-4)


def test_stretches_begin_and_end_inside() -> None:
    """60 runs have 12 cells: 55 stretches, none touching an end; all templates of length 1."""
    place = prepare(np.zeros(RUNS, dtype=int), np.ones(1))
    stretches = place.templates[place.n_ramps :]
    assert len(stretches) == 55
    assert (stretches[:, 0] == stretches[:, -1]).all()
    assert (place.templates**2).sum(axis=1) == pytest.approx(1.0, rel=1e-5)
    assert place.templates.sum(axis=1) == pytest.approx(0.0, abs=1e-5)


def test_short_log_has_no_stretch() -> None:
    """Ten runs hold two cells: no stretch, and the evidence stays finite."""
    place = prepare(np.zeros(10, dtype=int), np.ones(1))
    assert len(place.templates) == place.n_ramps
    assert np.isfinite(evidence(scores_within(np.zeros(10, dtype=int), 5), place)[0]).all()


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
    assert not set(place.splits.tolist()) - set(range(5, 56))


def test_change_is_larger_than_calm() -> None:
    """A planted step, ramp, stretch and doubled spread each raise the evidence."""
    rng = np.random.default_rng(7)
    calm = rng.normal(size=RUNS)
    series = np.column_stack([calm] * 5)
    series[30:, 1] += 2.5
    series[:, 2] += np.linspace(0, 4, RUNS)
    series[20:40, 3] += 2.5
    series[30:, 4] *= 4
    series = (series - series.mean(axis=0)) / series.std(axis=0)
    found, _ = evidence(series.astype(np.float32), prepare(np.zeros(RUNS, dtype=int), np.ones(1)))
    assert (found[1:] > found[0] + 3).all()
