"""
Preventable shares against attributable fractions.

- Miettinen, O. S. (1974), American Journal of Epidemiology 99, 325-332: share of exposed cases
  times (1 - 1 / RR), with RR adjusted for the confounder.
- Bruzzi, P., Green, S. B., Byar, D. P., Brinton, L. A. & Schairer, C. (1985), American Journal of
  Epidemiology 122, 904-914: the same by a logistic model, 1 less the sum over cells of the share
  of cases over RR.
- Tuyns, A. J. et al. (1977): alcohol and oesophageal cancer in six age groups, 96 of 200 cases and
  109 of 775 controls drinking 80 g a day or more; odds ratio beside age 5.31: Breslow, N. E. & Day,
  N. E. (1980), Statistical Methods in Cancer Research, volume 1, section 6.5 (from memory).
"""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest

from weakstep.failures.candidates import gather
from weakstep.failures.family import FamilyEffects
from weakstep.failures.links import Link
from weakstep.interval import Interval

BUILDER = Path(__file__).parents[1] / "failures" / "conftest.py"
CASES = [(1, 0), (4, 5), (25, 21), (42, 34), (19, 36), (5, 8)]
CONTROLS = [(9, 106), (26, 164), (29, 138), (27, 139), (18, 88), (0, 31)]


def share_of_yes(
    yes: np.ndarray, group: np.ndarray, failed: np.ndarray, tested: np.ndarray
) -> Interval:
    """Return the preventable share of a claimed yes/no column, the groups being operators."""
    spec = importlib.util.spec_from_file_location("failure_logs", BUILDER)
    builder = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(builder)
    described = (builder.make_parameter("touched", kind="yes_no"),)
    log = builder.make_log(
        {"touched": yes.astype(float)},
        {"bond": failed},
        tested,
        operator=group,
        parameters=described,
    )
    candidates, _ = gather(log.process, log.runs, group)
    link = Link(0, 0, 5.0, 5.0, 0.001, 0.001, 0.001, "strong", 0, ())
    effects = FamilyEffects(log.process, log.runs, candidates, (link,), failed)
    effect = effects.effects(np.random.default_rng(0))[0]
    return effect.draws.share(effect.choice.prevented)


def test_alcohol_beside_age():
    """
    With 1000 chips for each control failures are rare: the odds ratio is that of the rates.

    96 / 200 x (1 - 1 / 5.31) = 0.390. Each cell is dealt into 40 runs, in no order. The prior and
    the mean over what the ratio may be (its log is known to 0.19) draw it down by about 0.005.
    """
    rng = np.random.default_rng(62)
    cases, controls = np.array(CASES).ravel(), np.array(CONTROLS).ravel()
    dealt = np.full(40, 1 / 40)
    failed = rng.multinomial(cases, dealt[None, :].repeat(12, axis=0)).ravel()
    good = rng.multinomial(1000 * controls, dealt[None, :].repeat(12, axis=0)).ravel()
    yes, age = np.tile([1, 0], 6).repeat(40), np.repeat(np.arange(6), 2).repeat(40)
    order = rng.permutation(np.flatnonzero(failed + good > 0))
    tested = (failed + good)[order]
    share = share_of_yes(yes[order], age[order], failed[order], tested)
    assert share.estimate == pytest.approx(96 / 200 * (1 - 1 / 5.31), abs=0.015)
    assert share.lower < 0.390 < share.upper


def test_who_ran_it_is_allowed_for():
    """
    One operator fails four times as often and touches in eight of ten runs, the other in two.

    Touching doubles failures. By Bruzzi's formula with RR = 2 the share is half of the failures of
    touched runs; without regard to who ran it Levin's formula would say 0.18 more.
    """
    rng = np.random.default_rng(61)
    group = np.repeat([0, 1], 600)
    yes = np.where(group == 0, np.arange(1200) % 10 < 8, np.arange(1200) % 10 < 2)
    rate = np.where(group == 0, 0.08, 0.02) * np.where(yes, 2.0, 1.0)
    tested = np.full(1200, 20)
    failed = rng.binomial(tested, rate)
    of_cases = failed[yes].sum() / failed.sum()
    share = share_of_yes(yes, group, failed, tested)
    assert share.estimate == pytest.approx(of_cases * (1 - 1 / 2), abs=0.04)
    alone = failed[yes].mean() / failed[~yes].mean()
    levin = 0.5 * (alone - 1) / (1 + 0.5 * (alone - 1))
    assert levin - share.estimate > 0.12
