"""Whether the first factor bears up when the log is another one."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.failures.analysis import analyse
from weakstep.failures.null_model import logistic

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
    assert lines["With other re-orderings"].evidence == "strong"


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


def test_too_few_failures_left_is_said(log_of, numbers):
    """All failures lie in the last quarter: before it there is nothing to rank."""
    tested = np.full(RUNS, 3)
    failed = np.where(np.arange(RUNS) > 100, 1, 0)
    lines = answers(log_of(numbers, {"bond": failed}, tested))
    line = lines["Without the last quarter of the runs"]
    assert line.first is None
    assert "too few failures are left" in line.sentence


def test_nothing_ranked_nothing_asked(log_of, numbers):
    """A log without failures has no first factor to question."""
    log = log_of(numbers, {"bond": np.zeros(RUNS, dtype=int)}, np.full(RUNS, 3))
    assert analyse(log, seed=0).sensitivity == ()
