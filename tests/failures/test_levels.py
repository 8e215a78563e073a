"""Levels of a category: which one to avoid, or to keep to, and what that would prevent."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.failures.candidates import gather, pool_small_strata
from weakstep.failures.levels import best_level, simulate_levels
from weakstep.failures.null_model import fit_null, operator_background
from weakstep.failures.posterior import fit_shapes

RUNS = 900
SHARE_OF_RUNS = {"M1": 0.6, "M2": 0.2, "M3": 0.2}


def simulated(log_of, rates):
    """Return a category, its draws given an effect, and the failures of a log with these rates."""
    rng = np.random.default_rng(19)
    mould = rng.choice(list(SHARE_OF_RUNS), p=list(SHARE_OF_RUNS.values()), size=RUNS)
    tested = np.full(RUNS, 3)
    failed = rng.binomial(tested, np.array([rates[name] for name in mould]))
    log = log_of({"x": rng.normal(size=RUNS)}, {"bond": failed}, tested,
                 categories={"mould_id": mould})  # fmt: skip
    strata = pool_small_strata(log.runs.operator)
    found, _ = gather(log.process, log.runs, strata)
    candidate = next(one for one in found if one.name == "mould_id")
    null = fit_null(operator_background(log.runs.operator), failed, tested)
    fits = fit_shapes(null, candidate.columns, candidate.positive, failed, tested)
    draws = simulate_levels(candidate, fits, null, 1.0, tested, 400, rng)
    return candidate, draws, mould, failed


def counted_share(mould, failed, level, *, avoided):
    """Return the share prevented had all runs failed like the others, or like this level's."""
    mine = mould == level
    like = failed[~mine].mean() if avoided else failed[mine].mean()
    return 1.0 - like / failed.mean()


@pytest.mark.parametrize(
    ("rates", "said", "level", "avoided"),
    [
        ({"M1": 0.1, "M2": 0.1, "M3": 0.5}, "without M3", "M3", True),
        ({"M1": 0.1, "M2": 0.35, "M3": 0.35}, "with M1 alone", "M1", False),
    ],
)
def test_the_level_that_prevents_most_is_chosen(log_of, rates, said, level, avoided):
    """
    One bad mould is avoided, one good mould that most runs had is kept to.

    With 2700 chips the share is that of plain counting, within 3 standard errors of the ratio of
    two rates (delta method, about 0.03) and the pull of the prior.
    """
    candidate, draws, mould, failed = simulated(log_of, rates)
    choice = best_level(candidate, draws)
    assert (choice.level, choice.window) == (said, None)
    inside = (mould != level).mean() if avoided else (mould == level).mean()
    assert choice.inside == pytest.approx(inside)
    expected = counted_share(mould, failed, level, avoided=avoided)
    share = draws.share(choice.prevented)
    assert share.lower < expected < share.upper
    assert share.estimate == pytest.approx(expected, abs=0.03)


def test_a_level_that_few_runs_had_is_never_kept_to(log_of):
    """M3 never fails, but a fifth of the runs is too little to ask it of all: M2 is avoided."""
    candidate, draws, _, _ = simulated(log_of, {"M1": 0.3, "M2": 0.35, "M3": 0.02})
    keeping = draws.mean_share(draws.from_above)
    codes = [candidate.levels[int(shape.knot)] for shape in candidate.shapes]
    assert codes[int(np.argmax(keeping))] == "M3"
    assert best_level(candidate, draws).level != "with M3 alone"
