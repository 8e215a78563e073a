"""Shares of whole steps."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.failures.analysis import analyse
from weakstep.failures.null_model import logistic


def test_a_step_with_two_causes_prevents_more_than_either(log_of, parameter_of):
    """x0 and x4 belong to one step; both rise with failures; the shares combine."""
    rng = np.random.default_rng(41)
    values = rng.normal(size=(240, 6))
    tested = np.full(240, 3)
    failed = rng.binomial(tested, logistic(-2.5 + 1.2 * values[:, 0] + 1.2 * values[:, 4]))
    names = [f"x{j}" for j in range(6)]
    log = log_of(dict(zip(names, values.T, strict=True)), {"bond": failed}, tested)
    found = analyse(log, seed=0, permutations=499)
    shares = {one.column: one.preventable_share.estimate for one in found.factors}
    first = found.steps[0]
    assert (first.step, first.rank, first.evidence) == ("mixing", 1, "strong")
    together = 1 - (1 - shares["x0"]) * (1 - shares["x4"])
    assert first.preventable_share.estimate == pytest.approx(together, abs=0.02)
    assert [one.rank for one in found.steps] == [1, 2, 3, 4]


def test_alike_factors_of_one_step_leave_the_step_its_share(log_of, parameter_of):
    """The log cannot tell two copies apart, but both belong to the step."""
    rng = np.random.default_rng(42)
    x, other = rng.normal(size=(2, 160))
    tested = np.full(160, 3)
    failed = rng.binomial(tested, logistic(-2.0 + 1.5 * x))
    described = (parameter_of("x", 1), parameter_of("copy", 1), parameter_of("other", 2))
    numbers = {"x": x, "copy": x, "other": other}
    log = log_of(numbers, {"bond": failed}, tested, parameters=described)
    found = analyse(log, seed=0, permutations=499)
    factor = next(one for one in found.factors if one.column == "x")
    assert factor.alike == ("copy",)
    assert found.steps[0].step == "cure"
    assert found.steps[0].preventable_share.estimate > 1.6 * factor.preventable_share.estimate
