"""Logs in which little or nothing can be said: one clear sentence each, never a traceback."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.failures.analysis import analyse
from weakstep.failures.model import FailureAnalysis
from weakstep.trials.sizes import next_trial

RUNS = 40
RNG = np.random.default_rng(81)
X = RNG.normal(10.0, 1.0, RUNS)
Y = RNG.lognormal(size=RUNS)
TESTED = np.full(RUNS, 3)
SOME = RNG.binomial(3, 0.3, RUNS)
NONE = np.zeros(RUNS, dtype=int)
NUMBERS = {"a": X, "b": Y}


def look(log) -> FailureAnalysis:
    """Analyse and plan, and check what holds for every log."""
    found = analyse(log, seed=0, permutations=199)
    next_trial(log, found)
    assert found.verdict.sentence.endswith(".")
    assert "nan" not in found.verdict.sentence
    return found


def test_all_good(log_of):
    """There is nothing to tighten."""
    verdict = look(log_of(NUMBERS, {"bond": NONE}, TESTED)).verdict
    assert verdict.action == "log_more"
    assert verdict.sentence.startswith("No failure among 120 tested chips")


def test_all_failed(log_of):
    """There is nothing to compare with."""
    verdict = look(log_of(NUMBERS, {"bond": TESTED}, TESTED)).verdict
    assert verdict.sentence.startswith("All 120 tested chips failed")


def test_one_run(log_of):
    """Fourteen more."""
    log = log_of({"a": X[:1]}, {"bond": np.array([1])}, np.array([3]))
    assert "1 failure in 1 run): log about 14 more runs" in look(log).verdict.sentence


def test_no_runs_and_no_outcomes(log_of):
    """No chip has a known outcome."""
    empty = log_of({"a": X[:0]}, {"bond": NONE[:0]}, TESTED[:0])
    untested = log_of(NUMBERS, {"bond": NONE}, NONE)
    for log in (empty, untested):
        assert look(log).verdict.sentence.startswith("No chip in this log has a known outcome")


def test_too_few_failures_say_how_many_more(log_of):
    """Four failures: one more; the note names the family."""
    failed = NONE.copy()
    failed[:4] = 1
    found = look(log_of(NUMBERS, {"bond": failed}, TESTED))
    assert found.factors == ()
    assert "4 so far, 1 more needed" in found.notes[0]
    assert "log about 10 more runs" in found.verdict.sentence


def test_few_failures_are_fragile(log_of):
    """Seven failures are ranked, with a warning."""
    failed = NONE.copy()
    failed[::6] = 1
    assert failed.sum() == 7
    found = look(log_of(NUMBERS, {"bond": failed}, TESTED))
    assert len(found.factors) == 2
    assert any("fragile" in note for note in found.notes)


@pytest.mark.parametrize("operator", [None, np.full(RUNS, "A"), np.arange(RUNS)])
def test_nobody_one_operator_or_each_run_another(log_of, operator):
    """Strata of one, and strata too small to permute, still rank."""
    assert len(look(log_of(NUMBERS, {"bond": SOME}, TESTED, operator=operator)).factors) == 2


@pytest.mark.parametrize("numbers", [{}, {"a": np.ones(RUNS)}, {"a": np.full(RUNS, np.nan)}])
def test_no_parameter_that_varies(log_of, numbers):
    """The tally stands, nothing is ranked."""
    found = look(log_of(numbers, {"bond": SOME}, TESTED))
    assert found.tally.failed == SOME.sum()
    assert found.verdict.sentence.startswith("No parameter varies enough")


def test_perfect_separation_is_claimed_and_named(log_of):
    """All chips fail above 10: strong, the ordinary fit does not exist, the penalised one does."""
    found = look(log_of(NUMBERS, {"bond": np.where(X > 10, 3, 0)}, TESTED))
    assert (found.factors[0].column, found.factors[0].evidence) == ("a", "strong")
    model = found.models[0]
    assert model.separated == ("a",)
    assert model.unpenalised is None
    assert all(np.isfinite([t.coefficient.lower, t.coefficient.upper]).all() for t in model.terms)


def test_separation_by_who_ran_it_is_not_claimed(log_of):
    """B ran all the bad ones, at high values of a: nobody can tell which it was."""
    operator = np.where(X > 10, "B", "A")
    found = look(log_of(NUMBERS, {"bond": np.where(X > 10, 3, 0)}, TESTED, operator=operator))
    assert found.verdict.action == "log_more"


def test_copies_and_wild_units(log_of):
    """Identical columns, and numbers of 1e13 and 1e-9."""
    rng = np.random.default_rng(82)
    failed = rng.binomial(3, 1 / (1 + np.exp(-2 * (X - 10))))
    numbers = {"a": X * 1e12, "again": X * 1e12, "b": Y * 1e-9, "c": np.round(X * 1e5)}
    found = look(log_of(numbers, {"bond": failed}, TESTED, operator=rng.integers(0, 3, RUNS)))
    assert {found.factors[0].column, *found.factors[0].alike} >= {"a", "again"}


def test_yes_no_everywhere(log_of, parameter_of):
    """Only yes/no columns, some of them not logged."""
    rng = np.random.default_rng(83)
    yes = (rng.random(RUNS) < 0.4) * 1.0
    gaps = np.where(rng.random(RUNS) < 0.5, np.nan, yes)
    described = tuple(parameter_of(name, i, kind="yes_no") for i, name in enumerate(("p", "q")))
    found = look(log_of({"p": yes, "q": gaps}, {"bond": SOME}, TESTED, parameters=described))
    assert {one.per for one in found.factors} == {"yes against no"}
