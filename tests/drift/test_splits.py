"""Split statistics against slow, literal computation."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.drift.splits import Splits, evidence, prepare, split_norms

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


def literal_evidence(
    column: np.ndarray, place: Splits, norms: np.ndarray, phi: float, toward_spread: float
) -> float:
    """Evidence for a change, one place after the other."""
    power, likeness = column @ column, (1 - phi) / (1 + phi)

    def factor(explained: float, knowledge: float) -> float:
        gain = -RUNS / 2 * np.log(1 - explained / power) * likeness
        return float(np.exp(gain * knowledge / (1 + knowledge)) / np.sqrt(1 + knowledge))

    weights = np.sqrt([norms[k] for k in place.splits])
    weights /= weights.sum()
    step = spread = 0.0
    fresh = np.r_[column[0], (column[1:] - phi * column[:-1]) / np.sqrt(1 - phi**2)]
    all_fresh = fresh @ fresh
    for k, weight in zip(place.splits, weights, strict=True):
        step += weight * factor(column[:k].sum() ** 2 / norms[k], norms[k])
        before = (fresh[:k] @ fresh[:k] * RUNS / all_fresh + 1) / (k + 1)
        after = (fresh[k:] @ fresh[k:] * RUNS / all_fresh + 1) / (RUNS - k + 1)
        ratio = before ** -((k + 1) / 2) * after ** -((RUNS - k + 1) / 2)
        known = norms[k] * 0.7**2 / 2
        spread += weight * ratio ** (known / (1 + known)) / np.sqrt(1 + known)
    ramp, stretch = (
        np.mean(
            [
                factor((row.astype(float) @ column) ** 2, norm * size**2)
                for row, norm in zip(form.rows, form.norms, strict=True)
            ]
        )
        for form, size in ((place.ramps, 1.2), (place.stretches, 1.0))
    )
    spread *= np.exp(toward_spread)
    return float(np.log(0.25 * step + 0.26 * ramp + 0.04 * stretch + 0.45 * spread))


@pytest.mark.parametrize("phi", [0.0, 0.3])
@pytest.mark.parametrize("strata", [np.zeros(RUNS, dtype=int), STRATA], ids=["one", "three"])
def test_evidence_matches_literal_computation(strata: np.ndarray, phi: float) -> None:
    """Evidence agrees with loops over splits and templates."""
    place = prepare(strata, ONES)
    series = scores_within(strata, 3)
    norms = split_norms(strata, ONES)
    for leaning in (0.0, 1.5):
        literal = [
            literal_evidence(column, place, norms, phi, leaning)
            for column in series.T.astype(float)
        ]
        assert evidence(series, place, phi, leaning) == pytest.approx(literal, abs=2e-4)


def test_stretches_begin_and_end_inside() -> None:
    """60 runs have 8 cells: 21 stretches, none touching an end; all templates of length 1."""
    place = prepare(np.zeros(RUNS, dtype=int), np.ones(1))
    stretches = place.stretches.rows
    assert len(stretches) == 21
    assert (stretches[:, 0] == stretches[:, -1]).all()
    for form in (place.ramps, place.stretches):
        assert (form.rows**2).sum(axis=1) == pytest.approx(1.0, rel=1e-5)
        assert form.rows.sum(axis=1) == pytest.approx(0.0, abs=1e-5)
    assert place.stretches.norms.max() == pytest.approx(60 / 4, rel=0.01)  # half of 60 runs


def test_short_log_has_no_stretch() -> None:
    """Ten runs hold two cells: no stretch, and the evidence stays finite."""
    place = prepare(np.zeros(10, dtype=int), np.ones(1))
    assert len(place.stretches.rows) == 0
    assert np.isfinite(evidence(scores_within(np.zeros(10, dtype=int), 5), place, 0.0)).all()


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
    place = prepare(np.zeros(RUNS, dtype=int), np.ones(1))
    found = evidence(series.astype(np.float32), place, 0.0)
    assert (found[1:] > found[0] + 3).all()


def test_growing_and_shrinking_spread_weigh_the_same() -> None:
    """
    Backwards in time the evidence for a spread that trebles stays within 0.1.

    The splits of 60 runs lie alike from both ends; ramps, which do not, weigh next to nothing here.
    """
    series = scores_within(np.zeros(RUNS, dtype=int), 8)
    series[40:] *= 3.0
    place = prepare(np.zeros(RUNS, dtype=int), np.ones(1))
    # Mirrored pairs of neighbours, so that no level changes with the spread.
    series[1::2] = -series[::2]
    grown, shrunk = evidence(series, place, 0.0), evidence(series[::-1].copy(), place, 0.0)
    assert grown.mean() > 5.0
    assert shrunk == pytest.approx(grown, abs=0.1)
