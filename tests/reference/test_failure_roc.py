"""
The area under the ROC curve and its interval.

- Hanley, J. A. & McNeil, B. J. (1982), Radiology 143, 29-36: 58 normal and 51 abnormal computed
  tomograms rated 1 to 5; area 0.893 (data and result from memory). Their standard error, 0.032,
  takes the ratings to be exponential; ours does not, so it is not compared.
- DeLong, E. R., DeLong, D. M. & Clarke-Pearson, D. L. (1988), Biometrics 44, 837-845, and
  Obuchowski, N. A. (1997), Biometrics 53, 567-578: their sums over pairs, written out.
- scikit-learn's area.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import expit, logit
from scipy.stats import norm
from sklearn.metrics import roc_auc_score

from weakstep.failures.validation import roc_area

NORMAL, ABNORMAL = [33, 6, 6, 11, 2], [3, 2, 2, 11, 33]


def standard_error(interval) -> float:
    """Return the standard error behind an interval that is symmetric on the logit scale."""
    half = (logit(interval.upper) - logit(interval.lower)) / 2
    return half / norm.ppf(0.5 + interval.level / 2) * interval.estimate * (1 - interval.estimate)


def test_tomograms():
    """Three decimals as printed."""
    rating = np.repeat([*range(1, 6), *range(1, 6)], NORMAL + ABNORMAL)
    abnormal = np.repeat([0, 1], [58, 51])
    found = roc_area(rating, abnormal, np.ones(109, dtype=int))
    assert found.estimate == pytest.approx(0.893, abs=5e-4)
    # As five groups of tomograms with the same rating it is the same area.
    counts = np.array(ABNORMAL), np.array(NORMAL) + np.array(ABNORMAL)
    assert roc_area(np.arange(5), *counts).estimate == pytest.approx(found.estimate)


def runs(rng: np.random.Generator, count: int, effect: float):
    """Return scores and counts of runs whose chips fail together (beta-binomial)."""
    score = np.round(rng.normal(size=count), 1)
    rate = expit(-1.0 + effect * score)
    tested = rng.integers(1, 5, count)
    return score, rng.binomial(tested, rng.beta(2 * rate, 2 * (1 - rate))), tested


def test_area_agrees_with_scikit_learn():
    """Chips one by one, with ties."""
    score, failed, tested = runs(np.random.default_rng(41), 80, 1.0)
    outcome = np.concatenate(
        [np.repeat([1, 0], [k, m - k]) for k, m in zip(failed, tested, strict=True)]
    )
    expected = roc_auc_score(outcome, np.repeat(score, tested))
    assert roc_area(score, failed, tested).estimate == pytest.approx(expected, abs=1e-12)


def test_variance_agrees_with_sums_over_pairs():
    """Obuchowski's components by loops over chips, then summed over runs."""
    score, failed, tested = runs(np.random.default_rng(42), 50, 1.0)
    bad = [i for i in range(50) for _ in range(failed[i])]
    good = [i for i in range(50) for _ in range(tested[i] - failed[i])]
    above = np.array([[(score[i] > score[j]) + 0.5 * (score[i] == score[j]) for j in good]
                      for i in bad])  # fmt: skip
    area = above.mean()
    of_bad, of_good = np.zeros(50), np.zeros(50)
    np.add.at(of_bad, bad, above.mean(axis=1) - area)
    np.add.at(of_good, good, above.mean(axis=0) - area)
    with_bad, with_good = len(set(bad)), len(set(good))
    variance = with_bad / (with_bad - 1) * (of_bad**2).sum() / len(bad) ** 2
    variance += with_good / (with_good - 1) * (of_good**2).sum() / len(good) ** 2
    variance += 2 * 50 / 49 * (of_bad * of_good).sum() / (len(bad) * len(good))
    assert standard_error(roc_area(score, failed, tested)) == pytest.approx(np.sqrt(variance))


def test_interval_covers_where_chips_fail_together():
    """90 % of 400 logs of 80 runs; 4 standard errors (1.5 %) give 84 to 96 %."""
    rng = np.random.default_rng(43)
    score, failed, tested = runs(rng, 40_000, 0.8)
    true = roc_area(score, failed, tested).estimate
    covered = 0
    for _ in range(400):
        found = roc_area(*runs(rng, 80, 0.8), level=0.9)
        covered += found.lower < true < found.upper
    assert covered / 400 == pytest.approx(0.9, abs=0.06)


def test_the_ends():
    """All told apart: Wilson's limit; failures in one run only: nothing can be said."""
    score, ones = np.arange(8.0), np.ones(8, dtype=int)
    perfect = roc_area(score, (score > 3).astype(int), ones)
    assert (perfect.estimate, perfect.upper) == (1.0, 1.0)
    # Wilson, 4 of 4: 1 / (1 + 1.96^2 / 4).
    assert perfect.lower == pytest.approx(1 / (1 + norm.ppf(0.975) ** 2 / 4))
    wrong = roc_area(-score, (score > 3).astype(int), ones)
    assert (wrong.lower, wrong.estimate) == (0.0, 0.0)
    assert wrong.upper == pytest.approx(1 - perfect.lower)
    assert roc_area(score, (score > 6).astype(int), ones) is None
