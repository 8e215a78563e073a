"""Sizes of trials."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from weakstep.failures.analysis import analyse
from weakstep.failures.null_model import logistic
from weakstep.trials import sizes
from weakstep.trials.sizes import next_trial
from weakstep.trials.slopes import chips_for_groups, chips_for_slope


def test_slope_size_as_published():
    """Hsieh, Bloch & Larsen (1998), Table II: 317 for power 0.95 (0.80: 192, computed)."""
    assert chips_for_slope(0.5, 0.405, power=0.95) == 317
    assert chips_for_slope(0.5, 0.405) == 192
    assert chips_for_slope(0.5, 0.405, power=0.95, explained=0.5) == 634


def test_group_sizes_as_published():
    """Hsieh, Bloch & Larsen (1998), Table I: 1281 (from memory); unequal groups computed."""
    assert chips_for_groups(0.4, 0.5, power=0.95) == 1281
    assert chips_for_groups(0.4, 0.5, 0.2, power=0.95) == 1995
    assert chips_for_groups(0.4, 0.5, 0.8, power=0.95) == 1999


def planted(log_of, effect):
    """Return a log of 90 runs whose failures rise with the first of three parameters."""
    rng = np.random.default_rng(17)
    values = rng.normal(size=(90, 3))
    tested = np.full(90, 3)
    failed = rng.binomial(tested, logistic(-1.5 + effect * values[:, 0]))
    return log_of({f"x{j}": values[:, j] for j in range(3)}, {"bond": failed}, tested)


def test_a_claimed_factor_gets_two_arms(log_of):
    """In its window against as now, in random order, hoping for what the share promises."""
    log = planted(log_of, 1.5)
    analysis = analyse(log, seed=0, permutations=499)
    trial = next_trial(log, analysis)
    assert trial.column == "x0"
    share = analysis.factors[0].preventable_share.estimate
    assert trial.rate_hoped == pytest.approx(trial.rate_now * (1 - share))
    assert "random order" in trial.sentence
    assert f"make {trial.runs_per_arm} runs" in trial.sentence
    # Levels far apart on purpose are the sharper contrast.
    sooner = int(trial.sentence.split("spared, about ")[1].split(" runs at")[0])
    assert 2 <= sooner < trial.runs_per_arm


def test_levels_of_yes_and_no_are_said_in_words(log_of, builder):
    """Not "runs at 0.00"."""
    rng = np.random.default_rng(18)
    touched, tested = rng.integers(0, 2, 90).astype(float), np.full(90, 3)
    failed = rng.binomial(tested, logistic(-2.0 + 2.5 * touched))
    described = (builder.make_parameter("touched", 0, kind="yes_no", role="setting"),)
    log = log_of({"touched": touched}, {"bond": failed}, tested, parameters=described)
    sentence = next_trial(log, analyse(log, seed=0, permutations=199)).sentence
    assert "'touched' at no and" in sentence
    assert "runs at no and as many at yes, both" in sentence


def test_a_contrast_that_needs_as_many_runs_is_not_called_sooner(log_of, monkeypatch):
    """The arms of both plans are compared."""
    log = planted(log_of, 1.5)
    analysis = analyse(log, seed=0, permutations=499)
    arm = next_trial(log, analysis).runs_per_arm
    monkeypatch.setattr(sizes, "round_runs", lambda runs: arm)
    assert "sooner" not in next_trial(log, analysis).sentence
    monkeypatch.setattr(sizes, "round_runs", lambda runs: arm - 1)
    assert "sooner" in next_trial(log, analysis).sentence


def test_without_a_factor_it_says_how_many_more_runs(log_of):
    """Nothing is going on: how long until a doubling would show."""
    log = planted(log_of, 0.0)
    analysis = analyse(log, seed=0, permutations=499)
    assert analysis.verdict.action == "log_more"
    trial = next_trial(log, analysis)
    assert trial.column is None
    assert trial.runs_per_arm > 0
    assert "more runs" in trial.sentence


def test_nothing_failed_nothing_to_try(log_of):
    """There is no question to settle."""
    log = log_of({"a": np.arange(20.0)}, {"bond": np.zeros(20, dtype=int)}, np.ones(20, dtype=int))
    assert next_trial(log, analyse(log, seed=0, permutations=99)) is None


def test_a_verdict_on_a_measured_outcome_plans_no_trial_of_failures(log_of):
    """With nothing ranked against failures there is no rate to halve, whatever the verdict says."""
    log = planted(log_of, 1.5)
    analysis = analyse(log, seed=0, permutations=199)
    assert analysis.verdict.column == "x0"
    assert next_trial(log, replace(analysis, factors=())) is None
