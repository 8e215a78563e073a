"""Effects of crossed parameters on failures: profile intervals, also where nothing failed."""

from __future__ import annotations

import numpy as np
import pytest
from firthmodels import FirthLogisticRegression

from weakstep.errors import NotEnoughError
from weakstep.trials.designs import aliases, two_level
from weakstep.trials.effects import column_of, failure_effects, numeric_effects

GROUPS = aliases(two_level(2), 2, largest=2)


def test_profile_intervals_by_another_library() -> None:
    """Two crossed parameters, forty runs of one chip: effects and ends as firthmodels has them."""
    rng = np.random.default_rng(3)
    coded = np.tile(two_level(2).coded, (10, 1))
    failed = (rng.random(40) < 1 / (1 + np.exp(1.0 - 0.9 * coded[:, 0]))).astype(int)
    found = failure_effects(coded, failed, np.ones(40), GROUPS)
    columns = np.column_stack([column_of(coded, group[0]) for group in GROUPS])
    for place, effect in enumerate(found):
        model = columns if place == 2 else columns[:, :2]  # the pair stands beside the two
        fit = FirthLogisticRegression().fit(model, failed)
        low, high = fit.conf_int(method="pl")[:3].T
        assert effect.estimate.estimate == pytest.approx(2 * fit.coef_[place], abs=1e-5)
        assert effect.estimate.lower == pytest.approx(2 * low[place], abs=1e-3)
        assert effect.estimate.upper == pytest.approx(2 * high[place], abs=1e-3)


def test_a_level_without_a_failure_leaves_its_side_long() -> None:
    """0 of 40 against 12 of 40: the interval reaches farther to the side that nothing bounds."""
    coded = np.array([[-1.0], [1.0]])
    (effect,) = failure_effects(coded, [0, 12], [40, 40], [(frozenset({1}),)])
    one = effect.estimate
    assert one.upper - one.estimate > 1.5 * (one.estimate - one.lower)
    assert one.lower > 0.0


def test_chips_that_fail_together_widen_the_interval() -> None:
    """A design effect of 2 halves the counts."""
    coded = np.array([[-1.0], [1.0]])
    group = [(frozenset({1}),)]
    alone = failure_effects(coded, [4, 16], [40, 40], group)[0].estimate
    nested = failure_effects(coded, [4, 16], [40, 40], group, design_effect=2.0)[0].estimate
    assert nested.lower < alone.lower
    assert nested.upper > alone.upper


def test_effects_that_the_runs_cannot_tell_are_refused() -> None:
    """Both factors moved together, and a pair that is one of them: a sentence, no traceback."""
    coded = np.array([[-1.0, -1.0], [1.0, 1.0], [-1.0, -1.0], [1.0, 1.0]])
    for groups in (GROUPS[:2], [GROUPS[0], (frozenset({1, 2}),)]):
        with pytest.raises(NotEnoughError, match="cannot be told apart in the runs that have an"):
            failure_effects(coded, [0, 2, 1, 3], [4] * 4, groups)
    with pytest.raises(NotEnoughError, match="cannot be told apart in the runs that have an"):
        numeric_effects(coded, [0.0, 2.0, 1.0, 3.0], GROUPS[:2])


def test_an_outcome_that_never_changes_has_no_effect() -> None:
    """Nothing, not what rounding leaves of 0.1 + 0.2."""
    coded = np.array([[-1.0, -1.0], [1.0, -1.0], [-1.0, 1.0], [1.0, 1.0], [0.0, 0.0]])
    groups = [(frozenset({1}),), (frozenset({2}),)]
    found = numeric_effects(coded, np.full(5, 0.1 + 0.2), groups)
    assert [(e.estimate.estimate, e.estimate.lower, e.estimate.upper) for e in found] == [
        (0, 0, 0)
    ] * 2
