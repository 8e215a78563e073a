"""Whether the first factor bears up when the log is another one."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.failures.analysis import analyse
from weakstep.failures.candidates import gather, pool_small_strata
from weakstep.failures.leading import leader
from weakstep.failures.links import Outcomes
from weakstep.failures.null_model import logistic
from weakstep.failures.ranking import rank

RUNS = 120


@pytest.fixture(scope="module")
def numbers():
    """Return five parameters."""
    rng = np.random.default_rng(81)
    return {f"x{j}": rng.normal(size=RUNS) for j in range(5)}


def answers(log) -> dict[str, object]:
    """Return the sensitivity lines by question."""
    return {line.question: line for line in analyse(log, seed=0, permutations=199).sensitivity}


def test_a_strong_cause_stays_first(log_of, numbers):
    """Whatever is left out, a cause of 1.5 logits per standard deviation stays first."""
    rng = np.random.default_rng(82)
    tested = np.full(RUNS, 3)
    failed = rng.binomial(tested, logistic(-1.8 + 1.5 * numbers["x2"]))
    log = log_of(
        numbers,
        {"bond": failed},
        tested,
        operator=rng.choice(["AK", "BM", "CJ"], RUNS),
        categories={"mould_id": rng.choice(["M1", "M2"], RUNS)},
    )
    lines = answers(log)
    assert len(lines) == 6
    assert all(line.still_first for line in lines.values())
    assert {line.first for line in lines.values()} == {"x2"}
    thinned = lines["Had a further fifth of the failures gone unlogged"]
    assert thinned.sentence.endswith("still first in 10 of 10 such logs.")
    assert lines["With other re-orderings of the runs"].evidence == "strong"


def test_what_is_tied_to_the_calendar_stays_behind(log_of, numbers):
    """
    A drifting parameter explains most failures, but a step in time explains them as well.

    In the list x2, which is not tied to the calendar, stands above it; so it does in thinner logs.
    """
    rng = np.random.default_rng(85)
    tested, time = np.full(RUNS, 3), np.arange(RUNS) / RUNS
    late = (time > 0.5).astype(float)
    drifting = late + rng.normal(0.0, 0.2, RUNS)
    failed = rng.binomial(tested, logistic(-3.2 + 2.6 * late + 1.1 * numbers["x2"]))
    log = log_of(numbers | {"drifting": drifting}, {"bond": failed}, tested, week=(time * 15) // 1)
    found = analyse(log, seed=0, permutations=499)
    evidence = {one.column: one.evidence for one in found.factors}
    assert (evidence["drifting"], evidence["x2"]) == ("calendar", "strong")
    line = {one.question: one for one in found.sensitivity}[
        "Had a further fifth of the failures gone unlogged"
    ]
    assert line.sentence.endswith("still first in 10 of 10 such logs.")


def two_causes(log_of, seed: int):
    """Build a log in which x0 and x1 harm alike, x1 only above its middle."""
    rng = np.random.default_rng([84, seed])
    x = rng.normal(size=(RUNS, 6))
    operator = rng.integers(0, 3, RUNS)
    tested = rng.integers(2, 4, RUNS)
    eta = -2.3 + 0.9 * x[:, 0] + 1.5 * np.maximum(x[:, 1], 0.0) + 0.4 * (operator == 0)
    return log_of(
        {f"x{j}": x[:, j] for j in range(6)},
        {"bond": rng.binomial(tested, logistic(eta))},
        tested,
        operator=operator,
        week=np.arange(RUNS) // 8,
    )


@pytest.mark.parametrize("seed", range(8))
def test_the_leader_is_the_first_of_the_ranking(log_of, seed):
    """From the same links, without draws of shares; by T alone two of these logs go wrong."""
    log = two_causes(log_of, seed)
    runs = log.runs
    strata = pool_small_strata(runs.operator.astype(str))
    candidates = gather(log.process, runs, strata)[0]
    outcomes = Outcomes(runs.tested, dict(runs.failed), runs.operator, runs.week)
    rng = np.random.default_rng(0)
    ranking = rank(log.process, runs, candidates, outcomes, strata, 199, rng)
    first = ranking.factors[0]
    found = leader(log.process, runs, runs.failed["bond"], candidates, ranking.links["bond"])
    assert (found.column, found.evidence) == (first.column, first.evidence)
    assert set(found.alike) == set(first.alike)


def test_still_first_does_not_contradict_the_list(log_of):
    """With other re-orderings of the same log the same factor leads, with the same evidence."""
    for seed in (1, 8):
        found = analyse(two_causes(log_of, seed), seed=0, permutations=199)
        line, first = found.sensitivity[0], found.factors[0]
        assert line.question == "With other re-orderings of the runs"
        assert (line.evidence, first.evidence) == ("strong", "strong")
        assert line.first == first.column


def test_a_link_of_one_operator_falls_without_that_operator(log_of, numbers):
    """Only AK's failures follow x4; without AK nothing ties it to failures."""
    rng = np.random.default_rng(83)
    tested = np.full(RUNS, 3)
    operator = np.where(
        np.arange(RUNS) % 3 == 0, "AK", np.where(np.arange(RUNS) % 3 == 1, "B", "C")
    )
    high = (operator == "AK") & (numbers["x4"] > 0)
    failed = np.where(high, 3, rng.binomial(tested, 0.08))
    log = log_of(numbers, {"bond": failed}, tested, operator=operator)
    found = analyse(log, seed=0, permutations=199)
    assert found.factors[0].column == "x4"
    line = {one.question: one for one in found.sensitivity}["Without the runs of operator AK"]
    assert line.evidence in ("none", "some")
    assert not line.still_first
    assert line.sentence.endswith(
        "comes first instead (some evidence); for the x4 there is no evidence left."
    )


def test_too_few_failures_left_is_said(log_of, numbers):
    """All failures lie in the last quarter: before it there is nothing to rank."""
    tested = np.full(RUNS, 3)
    failed = np.where(np.arange(RUNS) > 100, 1, 0)
    drifting = numbers["x0"] + 3.0 * failed
    lines = answers(log_of(numbers | {"drifting": drifting}, {"bond": failed}, tested))
    line = lines["Without the last quarter of the runs"]
    assert line.first is None
    assert "too few runs or failures are left" in line.sentence


def test_nothing_ranked_nothing_asked(log_of, numbers):
    """A log without failures has no first factor to question."""
    log = log_of(numbers, {"bond": np.zeros(RUNS, dtype=int)}, np.full(RUNS, 3))
    assert analyse(log, seed=0).sensitivity == ()


def test_an_acquitted_first_factor_is_not_questioned(log_of, numbers):
    """Nothing is linked to failures: which innocent comes first is of no interest."""
    rng = np.random.default_rng(86)
    tested = np.full(RUNS, 3)
    log = log_of(numbers, {"bond": rng.binomial(tested, 0.2)}, tested)
    found = analyse(log, seed=0, permutations=199)
    assert found.factors[0].evidence == "none"
    assert found.sensitivity == ()


def test_a_single_factor_is_asked_whether_it_is_still_linked(log_of, numbers):
    """It always comes first, so that is not said; linked in the late runs only, it can lose."""
    rng = np.random.default_rng(87)
    tested = np.full(RUNS, 3)
    harm = np.where(np.arange(RUNS) > 85, 4.0 * numbers["x1"], 0.0)
    failed = rng.binomial(tested, logistic(-1.5 + harm))
    lines = answers(log_of({"x1": numbers["x1"]}, {"bond": failed}, tested))
    assert list(lines) == [
        "With other re-orderings of the runs",
        "Without the last quarter of the runs",
    ]
    whole, early = lines.values()
    assert whole.still_first
    assert whole.sentence.endswith(": still linked (strong evidence).")
    assert not early.still_first
    assert early.sentence.endswith(": no longer linked (no more than luck would show).")
