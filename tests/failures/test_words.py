"""Words of the verdict."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.failures.analysis import analyse
from weakstep.failures.model import Factor, Window
from weakstep.failures.null_model import logistic
from weakstep.failures.verdict import look_closer, tighten
from weakstep.failures.words import chance_words, share_words, window_words
from weakstep.interval import Interval


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (Interval(0.412, 0.0, 0.58, 0.9), "41 % (0 to 58 %)"),
        (Interval(0.11, 0.001, 0.44, 0.9), "11 % (under 1 % to 44 %)"),
        (Interval(0.97, 0.93, 0.999, 0.9), "97 % (93 to over 99 %)"),
        (Interval(0.001, 0.0, 0.002, 0.9), "under 1 % (0 to under 1 %)"),
        (Interval(0.5, 0.005, 0.995, 0.9), "50 % (under 1 % to over 99 %)"),
    ],
)
def test_shares_claim_neither_nothing_nor_all_where_they_are_neither(share, words):
    """Whole percents, the sign once."""
    assert share_words(share) == words


@pytest.mark.parametrize(("p", "words"), [(0.0004, "less than 0.1 %"), (0.0115, "1.1 %")])
def test_luck_in_words(p, words):
    """Small p-values are not printed as 0."""
    assert chance_words(p) == words


def test_windows_in_words(parameter_of):
    """One side, both sides, and yes or no."""
    delay = parameter_of("delay_s", decimals=0, unit="s")
    touched = parameter_of("touched", kind="yes_no")
    assert window_words(Window(None, 60.0, "s"), delay) == "at or below 60 s"
    assert window_words(Window(12.5, None, "s"), delay) == "at or above 12.5 s"
    assert window_words(Window(20.0, 40.0, "s"), delay) == "between 20 s and 40 s"
    assert window_words(Window(None, 0.0, ""), touched) == "at no"


@pytest.fixture(scope="module")
def factor() -> Factor:
    """Return a strong factor with a window and one factor alike."""
    share = Interval(0.41, 0.20, 0.58, 0.9)
    return Factor(
        "bond", "delay_s", "contact", 1, share, Window(None, 60.0, "s"), 0.7, "rises above 60 s",
        None, "per 10 s", 0.004, 0.01, 0.01, "strong", ("rh_pct",), 0.0, False, None, (),
    )  # fmt: skip


def test_tighten_says_step_window_share_and_evidence(log_of, parameter_of, factor):
    """One sentence, association only, alike ones named."""
    described = (parameter_of("delay_s", 3, decimals=0, unit="s"), parameter_of("rh_pct", 2))
    log = log_of(
        {"delay_s": np.ones(3), "rh_pct": np.ones(3)}, {"bond": np.ones(3, dtype=int)},
        np.ones(3, dtype=int), parameters=described,
    )  # fmt: skip
    verdict = tighten(factor, log.process)
    assert verdict.sentence == (
        "Tighten contact first: hold the delay s at or below 60 s (or it may be the rh pct: this "
        "log cannot tell); 41 % (20 to 58 %) of bond failures are linked to higher values (strong "
        "evidence: a link as clear as this turns up by luck in 0.4 % of logs)."
    )
    closer = look_closer(factor, log.process)
    assert closer.action == "look_closer"
    assert "vary it on purpose within one day" in closer.sentence


def test_a_mould_is_named_by_its_level(log_of):
    """Categories have no window; the sentence says which level differs."""
    rng = np.random.default_rng(61)
    mould = np.array(["M1", "M2", "M3"])[rng.integers(0, 3, 120)]
    tested = np.full(120, 3)
    failed = rng.binomial(tested, logistic(-2.5 + 2.5 * (mould == "M3")))
    log = log_of({"x": rng.normal(size=120)}, {"bond": failed}, tested,
                 categories={"mould_id": mould})  # fmt: skip
    found = analyse(log, seed=0, permutations=499)
    first = found.factors[0]
    assert (first.column, first.evidence, first.window) == ("mould_id", "strong", None)
    assert first.shape == "more failures with M3 than with the rest"
    assert first.per == "M3 against the rest"
    assert first.odds_ratio.lower < np.exp(2.5) < first.odds_ratio.upper
    assert first.level == "without M3"
    assert "M3" in found.verdict.sentence
    assert first.preventable_share.lower > 0.2
