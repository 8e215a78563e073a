"""How many more runs would show a doubling, by simulation on the log itself."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.failures import needed as needed_module
from weakstep.failures.candidates import gather, pool_small_strata
from weakstep.failures.enough import chips_per_arm
from weakstep.failures.links import Outcomes
from weakstep.failures.model import Needed
from weakstep.failures.needed import runs_needed
from weakstep.failures.permuting import draw_orders
from weakstep.failures.planting import planted_rate, upper_half
from weakstep.failures.screen import screen
from weakstep.failures.verdict import log_more


def plain_log(log_of, runs: int, parameters: int, rng: np.random.Generator, rate: float = 0.15):
    """Build a log in which nothing matters: 3 operators, 3 chips a run, independent chips."""
    numbers = {f"x{i}": rng.normal(size=runs) for i in range(parameters)}
    tested = np.full(runs, 3)
    return log_of(
        numbers,
        {"bond": rng.binomial(tested, rate)},
        tested,
        operator=rng.integers(0, 3, runs),
        week=np.arange(runs) // 8,
    )


def asked(log, *, failed=None):
    """Return outcomes and candidates of a log."""
    runs = log.runs
    strata = pool_small_strata(runs.operator.astype(str))
    counts = runs.failed if failed is None else {"bond": failed}
    return Outcomes(runs.tested, counts, runs.operator, runs.week), gather(
        log.process, runs, strata
    )[0]


def test_halves_are_as_equal_as_ties_allow(log_of):
    """Six of ten above the cut nearest to the middle; two of nine above are no half."""
    tested = np.full(40, 2)
    failed = {"bond": np.tile([0, 1], 20)}
    passes = np.tile([1, 1, 1, 1, 2, 2, 2, 3, 3, 3], 4)
    rare = np.tile([0] * 7 + [1] * 2 + [np.nan], 4)
    log = log_of({"passes": passes, "rare": rare, "even": np.arange(40.0)}, failed, tested)
    _, candidates = asked(log)
    by_name = {one.name: upper_half(one) for one in candidates}
    np.testing.assert_array_equal(by_name["passes"], passes > 1)
    assert by_name["rare"] is None
    assert by_name["even"].sum() == 20


def test_planting_keeps_the_failures_expected():
    """The halves fail 2 to 1; runs that did not log the parameter keep their rate."""
    rate, tested = np.full(5, 0.12), np.array([3, 3, 3, 3, 2])
    upper = np.array([1.0, 1.0, 0.0, 0.0, np.nan])
    planted = planted_rate(rate, tested, upper, 2.0)
    np.testing.assert_allclose(planted, [0.16, 0.16, 0.08, 0.08, 0.12])
    assert tested @ planted == pytest.approx(tested @ rate)
    np.testing.assert_array_equal(planted_rate(rate, tested, np.full(5, np.nan), 2.0), rate)


def test_at_least_what_the_published_formula_asks(log_of):
    """
    One parameter: more runs than a test of two halves alone at 5 % needs, and at most three times.

    The formula knows the cut and asks no gates (Fleiss 1981, equation 3.14).
    """
    log = plain_log(log_of, 150, 1, np.random.default_rng(1))
    outcomes, candidates = asked(log)
    needed = runs_needed(outcomes, candidates, np.random.default_rng(0))
    assert needed is not None
    chips = 2 * chips_per_arm(needed.rate_low, needed.rate_high, 0.8, 0.05)
    assert chips / 3 < needed.runs.estimate < chips
    assert needed.runs.lower < needed.runs.estimate < needed.runs.upper
    assert needed.further.estimate == pytest.approx(needed.runs.estimate - 150)


def test_the_screen_itself_has_the_power_foretold(log_of):
    """
    Real screens of 24 longer logs of the recommended length: 80 %, give or take 3 standard errors.

    Of the 24 logs .082, of the recommended length about .06.
    """
    rng = np.random.default_rng(2)
    first = plain_log(log_of, 200, 3, rng, rate=0.25)
    outcomes, candidates = asked(first)
    needed = runs_needed(outcomes, candidates, np.random.default_rng(0))
    runs, rate = round(needed.runs.estimate), float(outcomes.failed["bond"].sum() / 600)
    shown = 0
    for place in range(24):
        log = plain_log(log_of, runs, 3, rng)
        x = log.runs.numbers[f"x{place % 3}"].to_numpy()
        upper = (x > np.median(x)).astype(float)
        tested = log.runs.tested
        failed = rng.binomial(tested, planted_rate(np.full(runs, rate), tested, upper, 2.0))
        longer, ranked = asked(log, failed=failed)
        orders = draw_orders(pool_small_strata(log.runs.operator.astype(str)), 399, rng)
        link = next(
            one for one in screen(longer, ranked, orders)["bond"] if one.factor == place % 3
        )
        shown += link.evidence == "strong"
    assert shown / 24 == pytest.approx(0.8, abs=3 * np.hypot(0.082, 0.06))


def test_more_parameters_and_rarer_failures_need_more_runs(log_of):
    """And the same seed gives the same answer."""
    lengths = {}
    for parameters, rate in ((2, 0.2), (8, 0.2), (2, 0.08)):
        log = plain_log(log_of, 100, parameters, np.random.default_rng(3), rate)
        found = [runs_needed(*asked(log), np.random.default_rng(4)) for _ in range(2)]
        assert found[0] == found[1]
        lengths[parameters, rate] = found[0].runs.estimate
    assert lengths[2, 0.2] < lengths[8, 0.2]
    assert lengths[2, 0.2] < lengths[2, 0.08]


def test_nothing_to_plant(log_of):
    """Categories alone, or a parameter that hardly varies."""
    rng = np.random.default_rng(5)
    tested = np.full(40, 3)
    log = log_of(
        {"still": np.array([1.0] * 33 + [2.0] * 7)},
        {"bond": rng.binomial(tested, 0.2)},
        tested,
        categories={"mould": np.array(["M1", "M2"] * 20)},
    )
    assert runs_needed(*asked(log), rng) is None


def test_sentence_says_what_doubling_means_and_how_sure(log_of):
    """An interval stands in it; a parameter that no length would show is said so."""
    process = plain_log(log_of, 20, 1, np.random.default_rng(6)).process
    outcomes, candidates = asked(plain_log(log_of, 120, 2, np.random.default_rng(6)))
    needed = runs_needed(outcomes, candidates, np.random.default_rng(0))
    words = log_more(2, 120, needed, None, process).sentence
    assert "upper half of values fails twice as often as its lower half" in words
    assert "more runs (" in words
    assert "80 % chance" in words
    hopeless = Needed("bond", 2.0, 0.1, 0.2, 2, 0.8, 0.1, None, None)
    assert "vary one parameter on purpose" in log_more(2, 9, hopeless, None, process).sentence


def test_long_logs_are_simulated_on_runs_that_failed(log_of):
    """The latest 400 of 450 runs were all good: the whole log serves, and nothing breaks."""
    rng = np.random.default_rng(7)
    tested = np.full(450, 2)
    failed = np.where(np.arange(450) < 50, 1, 0)
    log = log_of({"a": rng.normal(size=450), "b": rng.normal(size=450)}, {"bond": failed}, tested)
    needed = runs_needed(*asked(log), np.random.default_rng(0))
    assert needed.parameters == 2
    assert needed.runs.estimate > 100


def test_the_latest_runs_with_enough_failures_are_asked():
    """400 when they hold 5 failures and 5 good chips, more when they do not, at worst all."""
    tested = np.full(1000, 2)
    often, seldom, early = (np.zeros(1000, dtype=int) for _ in range(3))
    often[::4] = 1
    seldom[::150] = 1
    early[:50] = 1
    assert len(needed_module._latest(often, tested)) == 400
    # From the end: runs 900, 750, 600, 450 and 300.
    assert needed_module._latest(seldom, tested)[0] == 300
    assert needed_module._latest(early, tested)[0] == 45
    assert len(needed_module._latest(tested, tested)) == 1000


def test_no_failure_drawn_leaves_the_log_itself(log_of, monkeypatch):
    """A drawn log without a failure cannot be asked; the log it was drawn from can."""
    log = plain_log(log_of, 120, 2, np.random.default_rng(8))
    outcomes, candidates = asked(log)

    def only_good_ones(habits, runs, rng):
        good = np.flatnonzero(habits.failed["bond"] == 0)[:runs]
        return habits.rows(good, habits.week[good]), good

    monkeypatch.setattr(needed_module, "resampled", only_good_ones)
    found = runs_needed(outcomes, candidates, np.random.default_rng(0))
    assert found.runs.lower < found.runs.estimate < found.runs.upper


@pytest.mark.parametrize(("runs", "rate"), [(70, 0.3), (115, 0.3), (140, 0.3), (160, 0.3)])
def test_chance_now_and_length_agree(log_of, runs, rate):
    """The chance with these runs reaches 80 % just when no more runs are asked for."""
    outcomes, candidates = asked(plain_log(log_of, runs, 3, np.random.default_rng(9), rate))
    needed = runs_needed(outcomes, candidates, np.random.default_rng(0))
    assert (needed.power_now >= 0.8) == (needed.further.estimate == 0.0)
