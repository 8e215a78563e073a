"""Claims, further claims and calendar gates for measured outcomes."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from weakstep.failures.candidates import gather
from weakstep.failures.measured import hazard_scores
from weakstep.failures.measured_screen import MeasuredScreen
from weakstep.failures.permuting import draw_orders

RUNS = 96


def screened(log_of, numbers, burst, *, operator=None, permutations=299):
    """Screen early failures of runs of one chip in twelve weeks."""
    week = np.arange(RUNS) // 8
    people = np.zeros(RUNS, dtype=int) if operator is None else operator
    log = log_of(numbers, {"bond": np.ones(RUNS, dtype=int)}, np.full(RUNS, 2), week=week)
    candidates, _ = gather(log.process, log.runs, people)
    orders = draw_orders(people, permutations, np.random.default_rng(1))
    scores = hazard_scores(burst, np.ones(RUNS, dtype=bool))
    links = MeasuredScreen(candidates, scores, week, orders).run()
    return {link.column: link for link in links}, [link.column for link in links]


def test_two_causes_are_claimed_one_after_the_other(log_of):
    """The weaker is judged beside the stronger; what goes with the stronger is alike, not more."""
    rng = np.random.default_rng(71)
    a, b, c = rng.normal(size=(3, RUNS))
    twin = a + 0.3 * rng.normal(size=RUNS)
    burst = np.exp(5.0 - 0.8 * a - 0.5 * b + 0.4 * rng.normal(size=RUNS))
    links, order = screened(log_of, {"a": a, "b": b, "c": c, "twin": twin}, burst)
    assert order[:2] == ["a", "b"]
    assert [links[name].evidence for name in ("a", "b")] == ["strong", "strong"]
    assert links["a"].alike == ("twin",)
    assert links["twin"].evidence != "strong"
    assert links["c"].evidence in ("none", "some")


def test_what_only_shares_the_calendar_is_called_so(log_of):
    """
    Burst pressure falls for an unlogged reason while a parameter drifts.

    Eight logs: the link is seen in each, and the gates, which err in 2 % each, let at most one by
    (two or more would happen once in a hundred times).
    """
    time, strong = np.linspace(-1.0, 1.0, RUNS), 0
    for seed in range(8):
        rng = np.random.default_rng([72, seed])
        drifting = 2.0 * time + 0.3 * rng.normal(size=RUNS)
        burst = np.exp(5.0 - 1.5 * time + 0.4 * rng.normal(size=RUNS))
        links, _ = screened(log_of, {"drifting": drifting, "x": rng.normal(size=RUNS)}, burst)
        assert links["drifting"].p <= 0.05
        assert links["drifting"].evidence in ("calendar", "strong")
        strong += links["drifting"].evidence == "strong"
    assert strong <= 1


def test_a_cause_that_varies_within_weeks_passes_the_gates(log_of):
    """Although weeks differ as well."""
    rng = np.random.default_rng(73)
    cause = rng.normal(size=RUNS)
    weeks = np.repeat(rng.normal(0.0, 0.6, 12), 8)
    burst = np.exp(5.0 - 0.7 * cause + weeks + 0.4 * rng.normal(size=RUNS))
    links, _ = screened(log_of, {"cause": cause, "x": rng.normal(size=RUNS)}, burst)
    assert links["cause"].evidence == "strong"


def test_the_slow_operator_does_not_accuse_his_scales(log_of):
    """Two people differ in a parameter and in strength; within each nothing is linked."""
    rng = np.random.default_rng(74)
    person = np.arange(RUNS) % 2
    ratio = person + 0.3 * rng.normal(size=RUNS)
    burst = np.exp(5.0 - 1.2 * person + 0.4 * rng.normal(size=RUNS))
    links, _ = screened(log_of, {"ratio": ratio}, burst, operator=person)
    assert links["ratio"].evidence == "none"


def test_one_shape_gives_the_p_of_a_rank_correlation(log_of):
    """
    A yes/no parameter has one shape: its p is near that of the normal score test.

    z by hand from the same scores; 999 re-orderings of a p near .02 have a standard error of .005.
    """
    rng = np.random.default_rng(75)
    touched = (rng.random(RUNS) < 0.4).astype(float)
    burst = np.exp(5.0 - 0.5 * touched + rng.normal(size=RUNS))
    links, _ = screened(log_of, {"touched": touched}, burst, permutations=999)
    scores = hazard_scores(burst, np.ones(RUNS, dtype=bool))
    z = np.corrcoef(touched, scores)[0, 1] * np.sqrt(RUNS - 1)
    assert links["touched"].p == pytest.approx(2 * norm.sf(abs(z)), abs=0.02)
