"""The reported model."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm

from weakstep.failures.analysis import analyse
from weakstep.failures.null_model import logistic
from weakstep.failures.reported import fit_reported
from weakstep.failures.terms import Column

RUNS = 200


@pytest.fixture(scope="module")
def delay():
    """Return delays, chips and failures that rise above 50 s."""
    rng = np.random.default_rng(91)
    values = rng.normal(45.0, 12.0, RUNS)
    tested = np.full(RUNS, 3)
    failed = rng.binomial(tested, logistic(-2.5 + 0.25 * np.maximum(values - 50.0, 0.0)))
    return values, tested, failed


def test_two_models_linear_first_then_in_the_shape(log_of, parameter_of, delay):
    """The hinge counts from its knot in seconds; odds ratios are per 10 s in both."""
    values, tested, failed = delay
    described = (parameter_of("delay_s", 3, decimals=0, per=10.0, unit="s"),)
    log = log_of({"delay_s": values}, {"bond": failed}, tested, parameters=described)
    linear, shaped = analyse(log, seed=0, permutations=299).models
    assert [term.name for term in linear.terms] == ["intercept", "delay_s"]
    assert shaped.terms[1].name.startswith("delay_s above ")
    for model in (linear, shaped):
        term = model.terms[1]
        assert term.per == "per 10 s"
        assert np.log(term.odds_ratio.upper) == pytest.approx(10 * term.coefficient.upper)
        assert model.auc.estimate > 0.6
        assert "Holds the factors linked to failures" in model.notes[1]
    # What this hinge would have without noise: the same fit on the planted probabilities.
    knot = float(shaped.terms[1].name.split()[2])
    clipped = np.clip(values, *np.quantile(values, [0.02, 0.98]))
    design = np.column_stack([np.ones(RUNS), np.maximum(clipped - knot, 0.0)])
    planted = logistic(-2.5 + 0.25 * np.maximum(values - 50.0, 0.0))
    target = sm.GLM(planted, design, family=sm.families.Binomial()).fit().params[1]
    found = shaped.terms[1].coefficient
    error = (found.upper - found.lower) / (2 * 1.96)
    assert abs(found.estimate - target) < 4 * error


def test_without_a_claim_the_model_is_for_reference_only(log_of):
    """It says so."""
    rng = np.random.default_rng(92)
    log = log_of({"a": rng.normal(size=60)}, {"bond": rng.binomial(2, 0.2, 60)}, np.full(60, 2))
    found = analyse(log, seed=0, permutations=199)
    assert found.factors[0].evidence in ("none", "some")
    assert found.models[0].notes[1].startswith("For reference, not evidence")


def fitted(values, failed, tested):
    """Fit one column beside an intercept."""
    column = Column("a", values, 1.0, "per 1")
    ones = np.ones((len(values), 1))
    return fit_reported("bond", [column], ones, ["intercept"], failed, tested, (), seed=0)


def test_runs_that_fail_as_a_whole_widen_the_interval():
    """Three chips that always share their fate tell no more than one."""
    rng = np.random.default_rng(93)
    values = rng.normal(size=150)
    one = rng.binomial(1, logistic(-1.0 + 0.8 * values))
    together = fitted(values, 3 * one, np.full(150, 3))
    single = fitted(values, one, np.ones(150, dtype=int))
    widths = [
        model.terms[1].coefficient.upper - model.terms[1].coefficient.lower
        for model in (together, single)
    ]
    assert widths[0] == pytest.approx(widths[1], rel=0.15)
    assert any("come together in runs" in note for note in together.notes)


@pytest.mark.parametrize(
    ("gap", "said"),
    [
        (10, "10 runs that did not log it are left out."),
        (1, "1 run that did not log it is left out."),
    ],
)
def test_runs_with_a_gap_are_left_out_and_told(gap, said):
    """The fit is that of the runs that logged it."""
    rng = np.random.default_rng(94)
    values, tested = rng.normal(size=80), np.full(80, 2)
    failed = rng.binomial(2, logistic(-1.0 + values))
    gaps = np.where(np.arange(80) < gap, np.nan, values)
    model = fitted(gaps, failed, tested)
    rest = fitted(values[gap:], failed[gap:], tested[gap:])
    assert model.terms == rest.terms
    assert said in model.notes
