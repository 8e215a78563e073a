"""Listed pairs of parameters."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.failures.analysis import analyse
from weakstep.failures.candidates import gather
from weakstep.failures.interactions import interactions
from weakstep.failures.links import Outcomes
from weakstep.failures.null_model import logistic
from weakstep.failures.permuting import draw_orders

RUNS = 150
PAIRS = (("a", "b"), ("a", "c"))


def found(log_of, logit, seed, values, pairs=PAIRS):
    """Return the interactions of a log with this logit."""
    rng = np.random.default_rng(seed)
    tested = np.full(RUNS, 3)
    failed = rng.binomial(tested, logistic(logit))
    operator = rng.choice(["AK", "BM", "CJ"], RUNS)
    log = log_of(values, {"bond": failed}, tested, operator=operator, interactions=pairs)
    return analyse(log, seed=0, permutations=399, ranking_only=True).interactions


@pytest.fixture(scope="module")
def values():
    """Return four parameters."""
    rng = np.random.default_rng(101)
    return {name: rng.normal(size=RUNS) for name in "abcd"}


def test_a_pair_that_acts_together_is_told(log_of, values):
    """Failures where a and b are both high or both low; a and c do not act together."""
    first, second = found(log_of, -2.0 + 1.2 * values["a"] * values["b"], 102, values)
    assert (first.columns, first.evidence) == (("a", "b"), "strong")
    assert "act together" in first.sentence
    assert "both high or both low" in first.sentence
    assert second.evidence != "strong"


def test_opposite_ways(log_of, values):
    """A negative product: one high and the other low."""
    first = found(log_of, -2.0 - 1.2 * values["a"] * values["b"], 103, values)[0]
    assert first.sentence.endswith("with one high and the other low.")


def test_sums_are_no_interactions(log_of, values):
    """A line of a and a bend of b: over 40 logs at most 3 called (1 % each)."""
    rng = np.random.default_rng(105)
    logit = -2.0 + 0.8 * values["a"] + 0.9 * np.maximum(values["b"], 0.0)
    tested, strata = np.full(RUNS, 3), np.zeros(RUNS, dtype=int)
    log = log_of(values, {"bond": tested}, tested, interactions=PAIRS)
    candidates, _ = gather(log.process, log.runs, strata)
    called = 0
    for _ in range(40):
        failed = {"bond": rng.binomial(tested, logistic(logit))}
        outcomes = Outcomes(tested, failed, log.runs.operator, log.runs.week)
        orders = draw_orders(strata, 199, rng)
        told = interactions(log.process, outcomes, candidates, {"bond": ()}, orders)
        called += any(one.evidence == "strong" for one in told)
    assert called <= 3


def test_pairs_that_are_not_logged_are_not_asked(log_of, values):
    """A pair with a column that the log lacks, or nothing listed, gives nothing."""
    assert found(log_of, -1.0 + 0.0 * values["a"], 104, values, pairs=(("a", "zz"),)) == ()
    assert found(log_of, -1.0 + 0.0 * values["a"], 104, values, pairs=()) == ()
