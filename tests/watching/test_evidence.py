"""Evidence and its limits: exact identities, plain recursions, and simulation as second roads."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import gamma

from weakstep.watching.evidence import (
    WAYS,
    evidence,
    evidence_of,
    evidence_steps,
    spread_scores,
    start_of,
    tilt_costs,
)
from weakstep.watching.limits import AT_THE_SEAM, SHIFTS, WEIGHTS, evidence_limit, share_of
from weakstep.watching.scores import cut, score_law, sequential_scores
from weakstep.watching.union import union_factor


@pytest.mark.parametrize("normal", [True, False])
@pytest.mark.parametrize("before", [30, 120])
def test_chance_of_a_signal(before: int, normal: bool) -> None:
    """
    The other road: values drawn, scored and weighed as in watching itself.

    The share that signals is as asked, whatever the length of the baseline: 3 standard errors, and
    a fifth more or less where scores are bounded by so short a baseline.
    """
    chance, semesters = 0.04, 3000
    values = np.random.default_rng(404).normal(5, 3, (before + 60, semesters))
    known, new = values[:before], values[before:]
    scores = cut(sequential_scores(known, new, normal=normal), before, normal=normal)
    sums = evidence(scores, before, tilt_costs(known, normal=normal)).sum(axis=1)
    share = (sums > evidence_limit(60, chance)).any(axis=0).mean()
    error = 3.0 * np.sqrt(chance * (1.0 - chance) / semesters)
    assert 0.8 * chance - error <= share <= 1.2 * chance + error


def test_spread_scores_by_the_moments_of_the_normal_law() -> None:
    """The other road: moments of sqrt|z| by the gamma function, their cost by quadrature."""
    mean = 2**0.25 * gamma(0.75) / np.sqrt(np.pi)
    deviation = np.sqrt(np.sqrt(2.0 / np.pi) - mean**2)
    assert spread_scores([0.0, 1.0]) == pytest.approx(
        [-mean / deviation, (1.0 - mean) / deviation], abs=1e-5
    )
    brought = quad(lambda z: np.exp((np.sqrt(z) - mean) / deviation - z * z / 2.0), 0.0, 30.0)[0]
    cost = np.log(brought * np.sqrt(2.0 / np.pi))
    told = float(spread_scores(1.7)) - np.log(evidence_steps(np.array(1.7))[-1])
    assert told == pytest.approx(cost, abs=2e-6)


def drawn_changes(rng: np.random.Generator, runs: int, semesters: int) -> np.ndarray:
    """Draw semesters in which one change began, each as likely beforehand as evidence weighs it."""
    begins = np.append(AT_THE_SEAM, np.ones(runs - 1))
    began = rng.choice(runs, semesters, p=begins / begins.sum())
    kind = rng.choice(len(WEIGHTS), semesters, p=WEIGHTS)
    sign = rng.choice([-1.0, 1.0], semesters)
    z = rng.standard_normal((runs, semesters))
    # A spread that doubles: normal scores weighed by the exponential of their spread scores.
    grid = np.linspace(-9.0, 9.0, 200_001)
    law = np.cumsum(np.exp(spread_scores(grid) - grid**2 / 2.0))
    wider = np.interp(rng.random((runs, semesters)), law / law[-1], grid)
    since = np.arange(runs)[:, None] >= began
    for place, shift in enumerate(SHIFTS):
        z += shift * sign * (since & (kind == place))
    return np.where(since & (kind == len(SHIFTS)), wider, z)


@pytest.mark.parametrize(("runs", "chance"), [(30, 0.01), (110, 0.002), (300, 0.001)])
def test_limit_by_drawing_changes(runs: int, chance: float) -> None:
    """
    The other road: chances of stable semesters from semesters that did change.

    With Q the law of semesters with one change, weighed as evidence weighs it, dQ/dP at a signal in
    run T is (evidence + starts to come) / all starts, so that the chance under P is the mean under
    Q of its inverse (importance sampling). 5 %: the curve's error and 3 standard errors of 40 000.
    """
    limit = evidence_limit(runs, chance)
    z = drawn_changes(np.random.default_rng(31), runs, 40_000)
    sums = np.full((1, z.shape[1]), AT_THE_SEAM - 1.0)
    inverse = np.zeros(z.shape[1])
    for run in range(runs):
        sums = np.minimum((1.0 + sums) * evidence_steps(z[run]), 1e100)
        now = evidence_of(sums)
        first = (now > limit) & (inverse == 0.0)
        inverse[first] = (runs + AT_THE_SEAM - 1.0) / (now[first] + runs - run - 1.0)
    assert inverse.mean() == pytest.approx(chance, rel=0.05)


def test_the_mean_of_evidence_is_the_number_of_starts() -> None:
    """
    While nothing changes evidence after 3 runs is 3 + 9 on average, whatever the law of scores.

    By ranks among 40 values rounded to a few, every next score as likely as the baseline's own;
    4 standard errors of 400 000.
    """
    known = np.random.default_rng(32).normal(size=40).round()
    law, chances = score_law(known, normal=False)
    z = np.random.default_rng(33).choice(law, (3, 400_000), p=chances)
    costs = tilt_costs(known, normal=False).reshape(-1, 1)
    found = evidence(z, 10**9, costs).sum(axis=1)[-1]
    assert found.mean() == pytest.approx(12.0, abs=4.0 * found.std() / np.sqrt(400_000))


def test_a_long_baseline_gives_the_plain_recursion() -> None:
    """The other road: R = (1 + R) times the likelihood ratio, with a billion values behind it."""
    scores = np.random.default_rng(10).normal(0.3, 1.0, 60)
    costs = np.append([0.5, 0.5, 2.0, 2.0], 0.494401)
    found = evidence(scores, 10**9, costs)
    sums = np.full(5, AT_THE_SEAM - 1.0)
    for place, z in enumerate(scores):
        sums = (1.0 + sums) * evidence_steps(np.array(z))
        assert found[place].sum() == pytest.approx(float(evidence_of(sums)), rel=1e-6)


def test_evidence_by_the_density_of_all_values() -> None:
    """
    The other road: the likelihood ratio of new values given the old ones, mean unknown.

    With variance 1 the values have, mean integrated out, a normal law; scores are then recursive
    residuals. Ratios of the densities for a shift by 1 from each start, first one times 10.
    """
    rng = np.random.default_rng(34)
    values = rng.normal(7.0, 1.0, 18)
    known, count = 12, 18
    steps = np.arange(1, count)
    means = np.cumsum(values)[:-1] / steps
    residuals = (values[1:] - means) * np.sqrt(steps / (steps + 1.0))
    found = evidence(residuals[known - 1 :], known, np.array([0.5, 0.5, 2.0, 2.0, 100.0]))[-1]
    centre = np.eye(count) - 1.0 / count

    def ratio(shift: float, start: int) -> float:
        moved = np.where(np.arange(count) >= start, shift, 0.0)
        return float(np.exp(values @ centre @ moved - moved @ centre @ moved / 2.0))

    for way, sign in ((0, 1.0), (1, -1.0)):
        expected = sum(
            weight / 2.0 * (AT_THE_SEAM if start == known else 1.0) * ratio(sign * shift, start)
            for shift, weight in zip(SHIFTS, WEIGHTS, strict=False)
            for start in range(known, count)
        )
        assert found[way] == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("alike", "error"), [(0.0, 0.02), (0.5, 0.06)])
def test_signals_that_come_together(alike: float, error: float) -> None:
    """
    The other road: 6000 semesters of 12 parameters drawn, and their signals counted.

    Any pair correlates as told; the errors are three standard errors of the count and of the
    factor's 128 drawn semesters.
    """
    rng = np.random.default_rng(21)

    def drawn(rows: int) -> np.ndarray:
        own, shared = rng.normal(size=(rows, 12)), rng.normal(size=(rows, 1))
        return np.asarray(np.sqrt(1.0 - alike) * own + np.sqrt(alike) * shared)

    limit = evidence_limit(60, 0.004)
    sums = np.full((1, 6000, 12), AT_THE_SEAM - 1.0)
    over = np.zeros((6000, 12), dtype=bool)
    for _ in range(60):
        sums = (1.0 + sums) * evidence_steps(drawn(6000))
        over |= evidence_of(sums) > limit
    counted = over.any(axis=1).mean() / (12.0 * over.mean())
    assert union_factor(drawn(2000), limit, runs=60) == pytest.approx(counted, abs=error)


def test_shares_join_to_the_whole() -> None:
    """Twenty charts at their share each join to 0.8 of 5 %."""
    assert 1 - (1 - share_of(0.05, 0.8, 20)) ** 20 == pytest.approx(0.04)


def test_a_start_is_where_the_change_began() -> None:
    """Ten calm scores, then a clear change: its start is found to a run."""
    calm = np.array([0.3, -0.8, 0.5, -0.1, 0.9, -0.6, 0.2, -0.4, 0.7, -0.5])
    moved = np.array([1.8, 2.4, 1.6, 2.2])
    assert start_of(np.append(calm, moved), 10**9, "higher") == 10
    assert start_of(np.append(calm, -moved), 10**9, "lower") == 10
    wide = np.array([-3.0, 3.1, -2.8, 3.3])
    assert start_of(np.append(calm, wide), 10**9, WAYS[2]) == 10
